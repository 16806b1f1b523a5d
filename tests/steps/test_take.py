"""Taking logs in: which run each is, what is refused and how it is told, and that one bad log stops no other."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import zstandard

from evenhand.book.book import Book
from evenhand.book.model import Outcome
from evenhand.errors import UsageError
from evenhand.steps import take as taking
from evenhand.steps.measured import measured_runs
from evenhand.steps.take import TakeReport, choices_of, take, take_logs
from evenhand.study.model import RunKey, Study

Make = Callable[..., Path]


def keys(folder: Path) -> list[str]:
    with Book.open(folder) as book:
        return [str(run.key) for run in book.runs()]


def said(report: TakeReport) -> str:
    return "\n".join(line for s in report.sections() for line in (s.heading, *s.paragraphs, *s.items))


def slugs(report: TakeReport) -> list[str]:
    return [problem.slug for refusal in report.refused for problem in refusal.problems]


def test_a_folder_by_pattern(folder: Path, logs: Path, pattern: str) -> None:
    told: list[tuple[int, int, str]] = []
    report = take_logs(folder, [logs], pattern=pattern, progress=lambda done, total, what="": told.append((done, total, what)))
    assert len(report.taken) == 8
    assert [t[:2] for t in told] == [(n, 8) for n in range(1, 9)]
    assert "ironvale/mine lean v2 r1" in keys(folder)
    assert "8 runs taken in" in said(report)
    assert [s.scene for s in report.stretches] == ["ironvale/mine"]
    assert "stretch of ironvale/mine fixed" in said(report)


def test_twice_is_once(folder: Path, logs: Path, pattern: str) -> None:
    take_logs(folder, [logs], pattern=pattern)
    before = keys(folder)
    report = take_logs(
        folder,
        [logs / "ironvale" / "mine" / "*.csv"],
        pattern="{setup}-v{visit}-r{run}",
        address=("ironvale", "mine", None, None, None),
    )
    assert (len(report.taken), len(report.already), report.refused) == (0, 8, ())
    assert keys(folder) == before
    assert "0 runs taken in; 8 there already" in said(report)


def test_options_say_it_all_and_the_run_is_counted(folder: Path, tmp_path: Path, make_log: Make) -> None:
    named = [make_log(tmp_path / f"{n}.csv", n) for n in (1, 2, 3)]
    address = ("night-ferry", None, "lean", 2, None)
    take_logs(folder, named[:2], address=address)
    report = take_logs(folder, named, address=address)
    assert [a.outcome for a in report.already] == [Outcome.ALREADY] * 2
    assert keys(folder) == [f"night-ferry/deck lean v2 r{n}" for n in (1, 2, 3)]


def test_what_the_study_does_not_know_is_refused_with_the_nearest_name(folder: Path, tmp_path: Path, make_log: Make) -> None:
    log = make_log(tmp_path / "a.csv", 1)
    report = take_logs(folder, [log], address=("nightferry", None, "leen", 1, 1))
    assert slugs(report) == ["not-in-study", "not-in-study"]
    assert "the study has no title 'nightferry'; it has night-ferry and ironvale" in said(report)
    assert "say --setup lean if that is meant, or add it to study.toml" in said(report)
    report = take_logs(folder, [log], address=("ironvale", "mime", "lean", 1, 1))
    assert "the study has no scene 'mime'; it has mine and tower" in said(report)
    assert keys(folder) == []


def test_a_title_with_several_scenes_needs_to_be_told_which(folder: Path, tmp_path: Path, make_log: Make) -> None:
    report = take_logs(folder, [make_log(tmp_path / "a.csv", 1)], address=("ironvale", None, "lean", 1, 1))
    assert slugs(report) == ["not-in-study"]


def test_a_bad_log_stops_no_other_and_leaves_no_trace(folder: Path, logs: Path, pattern: str) -> None:
    mine = logs / "ironvale" / "mine"
    (mine / "plain-v1-r1.csv").write_bytes(b"")
    (mine / "plain-v1-r2.csv").write_bytes(bytes(range(256)) * 50)
    report = take_logs(folder, [logs], pattern=pattern)
    assert len(report.taken) == 6
    assert {refusal.path.name for refusal in report.refused} == {"plain-v1-r1.csv", "plain-v1-r2.csv"}
    assert "2 logs were refused; the book has no trace of them" in said(report)
    with Book.open(folder) as book:
        assert len(book.runs()) == 6
        assert not book.strays()


def test_many_refusals_of_one_kind_are_told_once(folder: Path, tmp_path: Path, make_log: Make) -> None:
    for n in range(1, 8):
        (tmp_path / f"lean-v1-r{n}.csv").write_bytes(b"")
    report = take_logs(
        folder, [tmp_path / "*.csv"], pattern="{setup}-v{visit}-r{run}", address=("night-ferry", None, None, None, None)
    )
    [section] = [s for s in report.sections() if s.anchor == "refused"]
    assert len(section.items) == 4
    assert "for lean-v1-r4.csv, lean-v1-r5.csv, lean-v1-r6.csv, lean-v1-r7.csv" in section.items[-1]


def test_a_place_that_is_taken_is_refused_with_the_way_out(folder: Path, tmp_path: Path, make_log: Make) -> None:
    address = ("night-ferry", None, "lean", 1, 1)
    take_logs(folder, [make_log(tmp_path / "a.csv", 1)], address=address)
    report = take_logs(folder, [make_log(tmp_path / "b.csv", 2)], address=address)
    assert slugs(report) == ["run-taken"]
    assert "night-ferry/deck lean v1 r1 is another log already" in said(report)
    assert "--run 2" in said(report)
    assert len(keys(folder)) == 1


def test_the_same_log_under_two_keys_is_taken_and_told(folder: Path, tmp_path: Path, make_log: Make) -> None:
    first, second = make_log(tmp_path / "a.csv", 1), make_log(tmp_path / "b.csv", 1)
    take_logs(folder, [first], address=("night-ferry", None, "lean", 1, 1))
    report = take_logs(folder, [second], address=("night-ferry", None, "plain", 1, 1))
    assert len(report.taken) == 1
    assert "night-ferry/deck plain v1 r1 is the very same log as night-ferry/deck lean v1 r1" in said(report)


def test_a_packed_log_is_the_log_in_it(folder: Path, tmp_path: Path, make_log: Make) -> None:
    log = make_log(tmp_path / "a.csv", 1)
    packed = tmp_path / "packed" / "a.csv.zst"
    packed.parent.mkdir()
    packed.write_bytes(zstandard.ZstdCompressor().compress(log.read_bytes()))
    gz = tmp_path / "packed" / "a.csv.gz"
    gz.write_bytes(zlib.compress(log.read_bytes(), wbits=31))
    address = ("night-ferry", None, "lean", 1, 1)
    take_logs(folder, [log], address=address)
    for path in (packed, gz):
        assert len(take_logs(folder, [path], address=address).already) == 1


def test_no_such_file_and_unclear_options_are_told(folder: Path) -> None:
    with pytest.raises(UsageError) as error:
        take_logs(folder, ["nowhere/*.csv", "nothing.csv"])
    assert [p.slug for p in error.value.problems] == ["no-such-log"] * 2
    with pytest.raises(UsageError) as error:
        choices_of(role="length", unit="hours", where="program")
    assert [(p.slug, p.where) for p in error.value.problems] == [
        ("option-unclear", "--role"),
        ("option-unclear", "--unit"),
        ("option-unclear", "--where"),
    ]
    assert choices_of(delimiter="tab", where="program=a=b").where == ("program", "a=b")


def test_paths_that_tell_nothing_need_a_pattern(folder: Path, tmp_path: Path, make_log: Make) -> None:
    for name in ("ax-1-2", "by-2-1"):
        make_log(tmp_path / "heap" / f"{name}.csv", 1)
    with pytest.raises(UsageError) as error:
        take_logs(folder, [tmp_path / "heap"])
    [problem] = error.value.problems
    assert problem.slug == "which-run"
    assert "--pattern" in problem.do


def test_the_study_settles_what_paths_leave_open(folder: Path, tmp_path: Path, make_log: Make) -> None:
    """By the names alone `lean` might be the title; the study knows that it is a setup."""
    for n, name in enumerate(("lean-1-2", "lean-2-1", "plain-1-1", "plain-2-2")):
        make_log(tmp_path / "heap" / "ironvale" / "mine" / f"{name}.csv", n)
    take_logs(folder, [tmp_path / "heap"])
    assert sorted(keys(folder)) == [f"ironvale/mine {s}" for s in ("lean v1 r2", "lean v2 r1", "plain v1 r1", "plain v2 r2")]


def test_the_folder_that_was_named_may_be_part_of_the_name(folder: Path, logs: Path) -> None:
    take_logs(folder, [logs / "ironvale" / "mine"], address=("ironvale", None, None, None, None))
    assert len(keys(folder)) == 8


def test_study_folders_and_hidden_files_are_no_logs(folder: Path, logs: Path, pattern: str) -> None:
    (logs / ".hidden.csv").write_text("x", encoding="utf-8")
    folder.rename(logs / "study")
    report = take_logs(logs / "study", [logs], pattern=pattern)
    assert (len(report.taken), report.refused) == (8, ())


def test_a_choice_is_remembered_for_the_layout(folder: Path, tmp_path: Path, make_log: Make) -> None:
    first, second = make_log(tmp_path / "a.csv", 1), make_log(tmp_path / "b.csv", 2)
    choices = choices_of(column="gap_ms", role="duration", unit="us")
    take_logs(folder, [first], address=("night-ferry", None, "lean", 1, 1), choices=choices)
    take_logs(folder, [second], address=("night-ferry", None, "lean", 1, 2))
    with Book.open(folder) as book:
        assert {r.recipe.unit.value for r in book.readings().values()} == {"us"}


def test_a_log_that_is_there_can_be_read_anew(folder: Path, tmp_path: Path, make_log: Make) -> None:
    log = make_log(tmp_path / "a.csv", 1)
    address = ("night-ferry", None, "lean", 1, 1)
    take_logs(folder, [log], address=address)
    choices = choices_of(column="gap_ms", role="duration", unit="us")
    report = take_logs(folder, [log], address=address, choices=choices)
    assert "1 read anew" in said(report)
    with Book.open(folder) as book:
        [reading] = book.readings().values()
        assert reading.recipe.unit.value == "us"
        assert book.events()[-2].kind == "reading"
    report = take_logs(folder, [log], address=address, choices=choices)
    assert (len(report.already), len(report.reread)) == (1, 0)


def test_intervals_of_another_meaning_are_refused(
    folder: Path, study: Study, tmp_path: Path, make_log: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = make_log(tmp_path / "a.csv", 1)
    take_logs(folder, [log], address=("night-ferry", None, "lean", 1, 1))
    with Book.open(folder) as book:
        [reading] = book.readings().values()
        shown = replace(reading.recipe, interval="shown")
        book.remember_recipe(shown)
    report = take_logs(folder, [make_log(tmp_path / "b.csv", 2)], address=("night-ferry", None, "lean", 1, 2))
    assert slugs(report) == ["interval-differs"]
    assert "the study's intervals are from present to present, this log's from shown to shown" in said(report)


def test_a_stated_interval_is_remembered_and_held_against_the_study(folder: Path, tmp_path: Path, make_log: Make) -> None:
    first, second = make_log(tmp_path / "a.csv", 1), make_log(tmp_path / "b.csv", 2)
    take_logs(folder, [first], address=("night-ferry", None, "lean", 1, 1), choices=choices_of(interval="present"))
    with Book.open(folder) as book:
        assert [r.recipe.interval for r in book.readings().values()] == ["present"]
        assert [r.interval for r in book.recipes().values()] == ["present"]
    report = take_logs(folder, [second], address=("night-ferry", None, "lean", 1, 2), choices=choices_of(interval="shown"))
    assert slugs(report) == ["interval-differs"]
    with pytest.raises(UsageError) as caught:
        choices_of(interval="guessed")
    assert str(caught.value) == (
        "--interval: 'guessed' is none of present or shown  [option-unclear]\n  -> choose present or shown"
    )


def test_the_stretch_waits_for_three_runs_and_then_stays(folder: Path, study: Study, tmp_path: Path, make_log: Make) -> None:
    for n in (1, 2):
        report = take_logs(folder, [make_log(tmp_path / f"{n}.csv", n)], address=("ironvale", "mine", "lean", 1, n))
        assert report.stretches == ()
    report = take_logs(folder, [make_log(tmp_path / "3.csv", 3)], address=("ironvale", "mine", "lean", 1, 3))
    [stretch] = report.stretches
    with Book.open(folder) as book:
        before = {r.key: r.measures.values for r in measured_runs(book, study)}
    take_logs(folder, [make_log(tmp_path / "4.csv", 4, frames=400)], address=("ironvale", "mine", "lean", 1, 4))
    with Book.open(folder) as book:
        after = {r.key: r.measures.values for r in measured_runs(book, study)}
        assert book.stretch("ironvale/mine") == stretch
    assert len(after) == 4
    for key, values in before.items():
        np.testing.assert_array_equal([*after[key].values()], [*values.values()])


def test_nothing_is_reported_before_it_is_committed(
    folder: Path, study: Study, logs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At every word of progress another reader of the ledger must find as many runs as are reported."""
    monkeypatch.setattr(taking, "GROUP_RUNS", 3)
    files = {p: RunKey("ironvale", "mine", p.stem.split("-")[0], int(p.stem[-4]), int(p.stem[-1])) for p in logs.rglob("*.csv")}
    assert len(files) == 8
    short = []

    def told(done: int, total: int, what: str = "") -> None:
        with Book.open(folder) as other:
            short.append(len(other.runs()) < done)

    with Book.open(folder) as book:
        take(book, study, files, progress=told)
    assert short == [False] * 8


def test_a_log_that_goes_away_is_refused_and_the_rest_taken(folder: Path, study: Study, logs: Path) -> None:
    files = {
        p: RunKey("ironvale", "mine", p.stem.split("-")[0], int(p.stem[-4]), int(p.stem[-1])) for p in sorted(logs.rglob("*.csv"))
    }
    next(iter(files)).unlink()
    with Book.open(folder) as book:
        report = take(book, study, files)
    assert len(report.taken) == 7
    assert slugs(report) == ["log-unreadable"]


def test_logs_that_lost_rows_are_named(folder: Path, logs: Path, pattern: str) -> None:
    """Their own counter shows it."""
    for path in logs.rglob("*.csv"):
        own = [line.split(",")[1] for line in path.read_text(encoding="utf-8").splitlines()[1:]]
        numbered = [f"{i},{ms}" for i, ms in enumerate(own)]
        kept = [*numbered[:40], *numbered[43:]] if path.name == "lean-v2-r1.csv" else numbered
        path.write_text("\n".join(["no,gap_ms", *kept]) + "\n", encoding="utf-8", newline="\n")
    items = take_logs(folder, [logs], pattern=pattern).sections()[0].items
    assert "1 log with rows lost by its own counter, frames are missing there: ironvale/mine lean v2 r1" in items
    assert sum("3 rows are lost by the log's own counter" in item for item in items) == 1
