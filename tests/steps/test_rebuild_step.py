"""Derived data are made anew from originals and ledger, to the last bit; what is harmed or read otherwise is told."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.errors import BookError, UsageError
from evenhand.frames.model import Frames
from evenhand.steps import measured, readings, rebuild
from evenhand.steps.measured import measured_runs
from evenhand.steps.runs import StudyRun
from evenhand.steps.standing import decide
from evenhand.steps.take import take_logs
from evenhand.study.model import Study


@pytest.fixture
def full(folder: Path, logs: Path, pattern: str) -> Path:
    take_logs(folder, [logs], pattern=pattern)
    return folder


def runs_of(folder: Path, study: Study) -> tuple[StudyRun, ...]:
    with Book.open(folder) as book:
        return measured_runs(book, study)


def figures(runs: tuple[StudyRun, ...]) -> np.ndarray:
    return np.array([[*run.measures.values.values()] for run in runs])


def test_every_run_comes_with_frames_numbers_and_standing(full: Path, study: Study) -> None:
    decide(full, "ironvale/mine/lean/v1/r1", "set-aside", "x")
    runs = runs_of(full, study)
    assert [str(run.key) for run in runs[:3]] == [f"ironvale/mine plain {rest}" for rest in ("v1 r1", "v1 r2", "v2 r1")]
    assert len(runs) == 8
    assert [run.counts for run in runs] == [True] * 4 + [False] + [True] * 3
    run = runs[0]
    assert len(run.whole) == 900
    assert run.measures.frames == len(run.cut.counted)
    assert run.measures.values["average"] == pytest.approx(len(run.cut.counted) / run.cut.counted.seconds)
    assert not run.proven


def test_kept_numbers_are_those_made_anew(full: Path, study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    first = runs_of(full, study)

    def never(*_: object) -> None:
        raise AssertionError("numbers that are kept must not be made again")

    with monkeypatch.context() as patch:
        patch.setattr(measured, "measure_run", never)
        second = runs_of(full, study)
    np.testing.assert_array_equal(figures(first), figures(second))
    assert [(r.cut.first, r.cut.last, r.cut.start, r.cut.lag_s, r.cut.missing) for r in first] == [
        (r.cut.first, r.cut.last, r.cut.start, r.cut.lag_s, r.cut.missing) for r in second
    ]
    assert [r.measures for r in first] == [r.measures for r in second]


def test_other_code_or_target_rate_makes_numbers_anew(full: Path, study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    runs_of(full, study)
    made = []
    really = measured.measure_run
    monkeypatch.setattr(measured, "measure_run", lambda *args: made.append(1) or really(*args))
    runs_of(full, replace(study, target_rate=144.0))
    assert len(made) == 8
    monkeypatch.setattr(measured, "code", lambda: "other code")
    runs_of(full, replace(study, target_rate=144.0))
    assert len(made) == 16


def test_rebuilding_gives_the_same_bits(full: Path, study: Study) -> None:
    before = runs_of(full, study)
    report = rebuild.rebuild(full)
    assert report.identical
    assert (report.runs, report.compared, report.differ) == (8, 8, ())
    assert "8 runs compared with what derived/ held: every number is the same to the last bit." in report.lines()
    shutil.rmtree(full / "derived")
    np.testing.assert_array_equal(figures(before), figures(runs_of(full, study)))
    shutil.rmtree(full / "derived")
    report = rebuild.rebuild(full)
    assert (report.identical, report.compared) == (True, 0)
    np.testing.assert_array_equal(figures(before), figures(runs_of(full, study)))


def test_a_number_that_changed_is_told(full: Path, study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    runs_of(full, study)
    really = measured.measure_run

    def changed(frames: Frames, rate: float) -> object:
        made = really(frames, rate)
        return replace(made, values={**made.values, "average": np.nextafter(made.values["average"], np.inf)})

    monkeypatch.setattr(measured, "measure_run", changed)
    report = rebuild.rebuild(full)
    assert not report.identical
    assert {(d.what, str(d.run)) for d in report.differ} >= {("average", "ironvale/mine lean v1 r1")}
    assert "8 numbers differ" in "\n".join(report.lines())


def test_a_harmed_original_is_told_and_stops_no_other(full: Path, study: Study) -> None:
    before = runs_of(full, study)
    path = next((full / "originals").rglob("*.zst"))
    path.write_bytes(b"harmed")
    report = rebuild.rebuild(full)
    assert not report.identical
    assert [p.slug for p in report.damaged] == ["original-damaged"]
    np.testing.assert_array_equal(figures(before), figures(runs_of(full, study)))
    shutil.rmtree(full / "derived")
    with pytest.raises(BookError) as error:
        runs_of(full, study)
    assert error.value.problems[0].slug == "original-damaged"


def test_a_log_that_is_read_otherwise_is_told_and_accepted_on_request(
    full: Path, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs_of(full, study)
    really = readings.read_log

    def another(data: bytes, **how: object) -> object:
        reading = really(data, **how)
        return replace(reading, frames=Frames(reading.frames.ns[1:]))

    monkeypatch.setattr(readings, "read_log", another)
    report = rebuild.rebuild(full)
    assert not report.identical
    assert "taken in by version 0.1.0 as 900 frames, now read as 899; this does not count" in "\n".join(report.lines())
    shutil.rmtree(full / "derived")
    with pytest.raises(BookError) as error:
        runs_of(full, study)
    assert error.value.problems[0].slug == "reads-otherwise"
    report = rebuild.rebuild(full, accept=True)
    assert report.identical
    assert {len(run.whole) for run in runs_of(full, study)} == {899}


def test_a_stretch_can_be_decided_again(full: Path, study: Study) -> None:
    decide(full, "ironvale/mine/lean/v1/r1", "set-aside", "x")
    rebuild.rebuild(full, stretch="ironvale/mine", by="Ada")
    with Book.open(full) as book:
        record = book.stretch_records()["ironvale/mine"]
    assert (record.id, record.stretch.decided_by) == (2, "Ada")
    with pytest.raises(UsageError) as error:
        rebuild.rebuild(full, stretch="ironvale/tower")
    assert error.value.problems[0].slug == "no-such-run"


def test_runs_that_the_study_no_longer_names_are_kept_but_not_looked_at(full: Path, study: Study) -> None:
    smaller = replace(study, setups=study.setups[:1])
    with Book.open(full) as book:
        assert len(measured_runs(book, smaller)) == 4
        assert len(measured.unnamed(book, smaller)) == 4
        assert len(book.runs()) == 8
