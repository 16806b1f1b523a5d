"""A campaign by `evenhand next`: every call opens the book anew, as a new process would."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.book.model import NewRun
from evenhand.errors import UsageError
from evenhand.frames.model import Frames, Layout, Reading, Recipe, Role, Unit
from evenhand.screening.model import Standing
from evenhand.steps.campaign import campaign, settings
from evenhand.steps.new import new
from evenhand.steps.next import Begin, as_json, begin_next, end_present, next_of, sections
from evenhand.study.model import RunKey
from evenhand.study.read import read_study

HERE = Begin(elsewhere=True, tester="Ada")
CLOCK = datetime(2026, 12, 1, 19, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new(tmp_path / "study")
    text = (tmp_path / "study" / "study.toml").read_text(encoding="utf-8")
    (tmp_path / "study" / "study.toml").write_text(text.replace("visits = 3", "visits = 2"), encoding="utf-8")
    return tmp_path / "study"


def record(folder: Path, key: RunKey) -> None:
    """Put a run in the book."""
    ns = np.random.default_rng(abs(hash(key)) % 2**32).integers(6_000_000, 9_000_000, 50)
    log = (f"{key}\n" + "\n".join(f"{x / 1e6:.6f}" for x in ns)).encode()
    layout = Layout("utf-8", "", ".", (), ("interval_ms",), 1, 2, 51)
    reading = Reading(Frames(ns), layout, "interval_ms", Role.DURATION, Unit.MS, "50 frames")
    recipe = Recipe(layout.shape, "interval_ms", Role.DURATION, Unit.MS, ".", "", None, "present")
    with Book.open(folder) as book:
        book.add_run(NewRun(key, log, f"{key}.csv", reading, recipe))


def redo(folder: Path, key: RunKey) -> None:
    with Book.open(folder) as book:
        run = book.run(key)
        assert run is not None
        book.set_standing(run, Standing.REDO, "Ada", "update running")


def begin(folder: Path, order: int) -> None:
    """Begin what is due, at a moment of its own: a test is quicker than the clock's seconds."""
    due = next_of(folder).progress.due
    assert due is not None and not due.begun
    with Book.open(folder) as book:
        began = (CLOCK + timedelta(minutes=order)).isoformat()
        book.bench.add_visit(due.setup, due.visit, None, proven=False, began=began, tester="Ada")


def text(folder: Path) -> str:
    found = sections(next_of(folder))
    return "\n".join(line for s in found for line in (s.heading, *s.paragraphs, *s.items)).replace("\u00a0", " ")


def test_every_run_of_the_plan_is_asked_for_once_and_what_is_spoiled_comes_back(folder: Path) -> None:
    asked: list[RunKey] = []
    order, spoiled = 0, 0
    for _ in range(400):
        found = next_of(folder)
        due = found.progress.due
        if due is None:
            break
        if not due.begun:
            order += 1
            begin(folder, order)
            continue
        key = due.expected
        assert key is not None and key not in asked
        asked.append(key)
        record(folder, key)
        if len(asked) % 17 == 0:
            redo(folder, key)
            spoiled += 1
    plan_runs = 8 * 5 * 2
    assert next_of(folder).progress.due is None
    assert len(asked) == plan_runs + spoiled and spoiled == 4
    assert "Nothing is left to record: all 8 visits" in text(folder)


def test_what_is_said_before_the_first_visit(folder: Path) -> None:
    said = text(folder)
    assert "Planned just now, as no plan was kept" in said
    assert "memory speed: DDR5-" in said and "in the firmware" in said
    assert "shorten the life of parts or void a warranty" in said and "Never cut the power" in said
    assert "0 of 8 visits are done; left: 8 visits" in said


def test_cautions_are_said_once_for_each_kind_of_change(folder: Path) -> None:
    assert [c.key for c in next_of(folder).cautions] == ["usual", "firmware"]
    assert next_of(folder).cautions == ()
    study = (folder / "study.toml").read_text(encoding="utf-8")
    study = study.replace('name = "memory"\n', 'name = "memory"\napply = "parts"\n')
    (folder / "study.toml").write_text(study, encoding="utf-8")
    assert [c.key for c in next_of(folder).cautions] == ["parts"]
    with Book.open(folder) as book:
        assert [e.text for e in book.events() if e.kind == "cautioned"] == ["usual", "firmware", "parts"]


def test_only_what_differs_is_to_be_set(folder: Path) -> None:
    begin(folder, 1)
    with Book.open(folder) as book:
        study = read_study(book.study_file)
    one = settings(study, "6400-45W", "5200-45W")
    assert [(s.level, s.before) for s in one] == [("DDR5-6400", "DDR5-5200"), ("45 W", None)]
    with Book.open(folder) as book:
        while (state := campaign(book, study).progress).present and state.present.expected:
            record(folder, state.present.expected)
    found = next_of(folder)
    assert found.before == found.progress.present.setup  # type: ignore[union-attr]
    said = text(folder)
    for setting in found.settings:
        assert (f"{setting.factor}: {setting.level} instead of" in said) == (setting.before is not None)


def test_a_visit_is_begun_once_and_can_be_taken_back(folder: Path) -> None:
    due = next_of(folder).progress.due
    said = begin_next(folder, HERE)
    assert "by Ada" in said[0] and "unproven" in said[0]
    with pytest.raises(UsageError, match=r"is not finished: it lacks 10 runs  \[visit-unfinished\]"):
        begin_next(folder, HERE)
    end_present(folder, "begun by mistake")
    again = next_of(folder).progress
    assert again.present is None and again.due == due
    begin_next(folder, HERE)
    assert next_of(folder).progress.present is not None


def test_a_visit_ended_early_brings_back_what_it_lacks(folder: Path) -> None:
    begin(folder, 1)
    key = next_of(folder).progress.due.expected  # type: ignore[union-attr]
    assert key is not None
    record(folder, key)
    said = end_present(folder, "the PC froze")
    assert "4 scenes without a run that counts will come back in visit 3" in said[0]
    assert "which is over: recorded anew in visit 3 of its own, outside the rounds" in text(folder)
    assert "has 1 of 2 runs in visit 1" in text(folder)
    with pytest.raises(UsageError, match="no visit is going on"):
        end_present(folder, "again")


def test_ending_needs_a_reason(folder: Path) -> None:
    begin(folder, 1)
    with pytest.raises(UsageError, match="a visit is ended for a reason"):
        end_present(folder, " ")


def test_nothing_can_be_begun_when_all_is_done(folder: Path) -> None:
    study = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(study.replace("visits = 2", "visits = 1"), encoding="utf-8")
    for order in range(4):
        begin(folder, order)
        while (due := next_of(folder).progress.due) and due.begun and due.expected:
            record(folder, due.expected)
    with pytest.raises(UsageError, match=r"every visit of the plan is done  \[nothing-due\]"):
        begin_next(folder, HERE)


def test_a_study_that_asks_for_more_is_planned_anew_and_what_is_done_counts(folder: Path) -> None:
    begin(folder, 1)
    key = next_of(folder).progress.due.expected  # type: ignore[union-attr]
    assert key is not None
    record(folder, key)
    study = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(study.replace("visits = 2", "visits = 3"), encoding="utf-8")
    found = next_of(folder)
    assert found.planned_anew and found.progress.visits == 12
    assert found.progress.due is not None and found.progress.due.begun
    assert sum(s.runs for s in found.progress.due.scenes) == 9
    with Book.open(folder) as book:
        assert book.bench.plans()[-1].why == "study.toml asks for something else than the plan did"


def test_this_pc_is_looked_at_when_it_is_the_bench(folder: Path) -> None:
    """The starter study expects nothing of a snapshot, so it proves nothing; but it is kept with the visit."""
    said = begin_next(folder, Begin(tester="Ada"))
    assert "unproven" in said[0]
    with Book.open(folder) as book:
        [visit] = book.bench.visits()
        assert visit.snapshot == book.bench.snapshots()[0].id and visit.tester == "Ada"


def test_the_document_says_what_is_expected(folder: Path) -> None:
    begin(folder, 1)
    document = json.loads(as_json(next_of(folder)))
    assert document["form"] == "evenhand-next-1" and document["due"]["begun"]
    key = RunKey(**document["expected"])
    assert key.run == 1
    record(folder, key)
    assert RunKey(**json.loads(as_json(next_of(folder)))["expected"]) == replace(key, run=2)
