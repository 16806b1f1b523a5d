"""Runs get the label that snapshots bear out, or are refused; what changed marks results; the whole way through the commands."""

from __future__ import annotations

import json

import jsonschema
import numpy as np
import pytest
from raw_answers import hybrid
from test_inspect import TOML
from typer.testing import CliRunner

from evenhand.book.book import Book
from evenhand.cli.app import app
from evenhand.errors import BenchError, UsageError
from evenhand.steps import changes, documents, judge
from evenhand.steps.changes import changes_of
from evenhand.steps.inspect import inspect_pc
from evenhand.steps.take import take
from evenhand.study.model import RunKey
from evenhand.study.read import read_study

SETTINGS = {"on-yes": (True, True), "off-yes": (False, True), "on-no": (True, False), "off-no": (False, False)}


@pytest.fixture
def bench(tmp_path):
    """A study and a PC: `.snap` looks at the PC at an hour, `.record` takes a run that began at an hour."""
    Book.create(tmp_path / "study", TOML).close()
    return Bench(tmp_path)


class Bench:
    def __init__(self, tmp_path):
        self.folder, self.tmp = tmp_path / "study", tmp_path

    def answers(self, setup, at, **files):
        return hybrid(
            *SETTINGS[setup], f"2026-05-{1 + int(at) // 24:02}T{int(at) % 24:02}:{round(at % 1 * 60):02}:00+00:00", **files
        )

    def snap(self, setup, at, visit=None, **files):
        path = self.tmp / f"snapshot-{at}.json"
        path.write_text(json.dumps(self.answers(setup, at, **files)), encoding="utf-8")
        return inspect_pc(self.folder, path, visit=visit, tester="ada")

    def record(self, setup, visit, at, run=1, although=None):
        rng = np.random.default_rng(hash((setup, visit, run)) % 2**32)
        path = self.tmp / f"{setup}-{visit}-{run}.csv"
        path.write_text("ms\n" + "\n".join(f"{x:.4f}" for x in rng.normal(8, 0.4, 3000)), encoding="utf-8")
        began = f"2026-05-{1 + int(at) // 24:02}T{int(at) % 24:02}:{round(at % 1 * 60):02}:00+00:00"
        with Book.open(self.folder) as book:
            key = RunKey("night-ferry", "night-ferry", setup, visit, run)
            return take(book, read_study(book.study_file), {path: key}, started={path: began}, although=although)


def test_a_run_is_proven_by_the_snapshot_before_it(bench):
    bench.snap("on-yes", 10)
    report = bench.record("on-yes", 1, 10.5)
    assert report.proofs == ("visit 1 of on · yes is proven by the snapshot of 1 May 2026, 10:00 UTC",)
    assert report.proofs[0] in report.sections()[0].items
    assert bench.record("on-yes", 1, 10.75, run=2).proofs == ()
    with Book.open(bench.folder) as book:
        assert [run.proven for run in book.runs()] == [True, True]


def test_a_run_that_the_snapshot_contradicts_is_refused_and_leaves_no_trace(bench):
    bench.snap("off-yes", 10)
    report = bench.record("on-yes", 1, 10.5)
    assert report.taken == ()
    [problem] = report.refused[0].problems
    assert problem.slug == "setup-contradicted"
    assert "threads per core 1 where 2 is expected, and the PC was in off · yes" in problem.what
    with Book.open(bench.folder) as book:
        assert (book.runs(), book.bench.visits()) == ((), ())
    kept = bench.record("on-yes", 1, 10.5, although="restarted after the snapshot")
    assert kept.proofs[0].endswith("stays unproven although the snapshot of 1 May 2026, 10:00 UTC says otherwise: "
                                   "restarted after the snapshot")  # fmt: skip
    with Book.open(bench.folder) as book:
        assert not book.runs()[0].proven
    assert [v.why for v in changes_of(bench.folder).account.visits] == ["restarted after the snapshot"]


@pytest.mark.parametrize("at", [9.5, 23])
def test_a_snapshot_after_the_run_or_long_before_it_proves_nothing(bench, at):
    bench.snap("off-yes", 10)
    report = bench.record("on-yes", 1, at)
    assert (len(report.taken), report.proofs) == (1, ())
    with Book.open(bench.folder) as book:
        assert not book.runs()[0].proven


def test_a_snapshot_of_another_visit_is_not_held_against_a_run(bench):
    bench.snap("on-yes", 10, visit=1)
    assert bench.record("off-no", 1, 11).taken


def test_a_snapshot_that_comes_after_the_logs_proves_their_visit(bench):
    bench.record("on-yes", 1, 10.5)
    found = bench.snap("on-yes", 10, visit=1)
    assert found.visit.proven
    with Book.open(bench.folder) as book:
        assert book.runs()[0].proven


def test_a_snapshot_in_the_inbox_is_found(bench):
    (bench.folder / "inbox").mkdir()
    (bench.folder / "inbox" / "snapshot-x.json").write_text(json.dumps(bench.answers("off-no", 10)), encoding="utf-8")
    logs = bench.tmp / "off-no-v1-r1.csv"
    logs.write_text("ms\n" + "\n".join(["8.1"] * 3000), encoding="utf-8")
    shown = CliRunner().invoke(
        app, ["take", str(bench.folder), str(logs), "--title", "night-ferry", "--setup", "off-no", "--visit", "1"]
    )
    assert shown.exit_code == 0, shown.output
    with Book.open(bench.folder) as book:
        assert [s.source for s in book.bench.snapshots()] == ["snapshot-x.json"]


def recorded(bench):
    """Three rounds of all four setups, proven; from the third visit on with another firmware."""
    at = 0.0
    for visit in (1, 2, 3):
        for setup in SETTINGS:
            at += 1
            new = {"bios_version": "1.21"} if at >= 3 else {}
            bench.snap(setup, at, visit=visit, **new)
            for run in (1, 2):
                bench.record(setup, visit, at + 0.1 * run, run=run)


def test_a_change_marks_every_result_until_it_is_waived(bench):
    recorded(bench)
    found = changes_of(bench.folder)
    assert [(r.setup, r.visit) for r in found.account.least] == [("on-yes", 1), ("off-yes", 1)]
    assert found.account.rounds
    told = "\n".join("\n".join((s.heading, *s.paragraphs, *s.items)) for s in found.sections())
    assert "firmware: 1.20 04/01/2026 before, 1.21 04/01/2026 now (between off · yes visit 1 and on · no visit 1)" in told
    assert "The least that makes them good again: record 2 visits again (4 runs): on · yes visit 1; off · yes visit 1." in told
    judged = judge.judge_study(bench.folder)
    assert judged.sections[0].heading.startswith("Results are stale")
    document = json.loads(judge.as_json(judged))
    jsonschema.validate(document, documents.schema("judge"))
    assert document["unproven_runs"] == 0
    assert len(document["bench"]["stale"]) == 4
    waived = changes_of(bench.folder, waive="firmware_version", why="a logo more", by="ada")
    assert waived.sections()[0].heading == "1 change of firmware_version does not matter, decided by ada: a logo more"
    assert waived.account.stale == ()
    assert not any("stale" in s.heading for s in judge.judge_study(bench.folder).sections)
    again = changes_of(bench.folder, unwaive="firmware_version")
    assert len(again.account.stale) == 4


def test_json_of_changes_follows_its_schema(bench):
    recorded(bench)
    shown = CliRunner().invoke(app, ["changes", str(bench.folder), "--json"])
    jsonschema.validate(json.loads(shown.stdout), documents.schema("changes"))


def test_a_visit_that_was_begun_anew_has_its_later_snapshots_only(bench):
    bench.snap("on-yes", 1, visit=1)
    bench.record("on-yes", 1, 1.1)
    path = bench.tmp / "snapshot-anew.json"
    path.write_text(json.dumps(bench.answers("on-yes", 5, bios_version="1.21")), encoding="utf-8")
    inspect_pc(bench.folder, path, visit=1)
    assert changes_of(bench.folder).account.least != ()
    inspect_pc(bench.folder, path, visit=1, anew=True)
    assert changes_of(bench.folder).account.least == ()


def test_waiving_wrongly(bench):
    bench.snap("on-yes", 1, visit=1)
    with pytest.raises(UsageError, match="waived for a reason"):
        changes_of(bench.folder, waive="firmware_version")
    with pytest.raises(BenchError, match=r"there is nothing to waive"):
        changes_of(bench.folder, waive="firmware_version", why="x")
    with pytest.raises(BenchError, match=r"\[no-such-change\]"):
        changes_of(bench.folder, unwaive="firmware_version")
    with pytest.raises(UsageError, match="both"):
        changes_of(bench.folder, waive="a", unwaive="b", why="x")
    bench.snap("on-yes", 2, visit=2, bios_version="1.21")
    with pytest.raises(BenchError, match=r"did you mean firmware_version\?"):
        changes_of(bench.folder, waive="firmware_versoin", why="x")


def test_a_study_without_snapshots(bench):
    bench.record("on-yes", 1, 1)
    told = changes.changes_of(bench.folder).sections()
    assert [s.heading for s in told] == ["Fewer than two visits have a snapshot", "0 of 1 visit proven by a snapshot"]
