"""Rehearsing a study folder: as planned, as recorded, with the noise of earlier books, and what its options mean."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.errors import BookError, UsageError
from evenhand.rehearsal import calibration
from evenhand.rehearsal.model import Difference
from evenhand.rehearsal.spreads import KINDS
from evenhand.steps.judge import judge_study
from evenhand.steps.rehearse import NoiseChoice, Rehearsed, as_json, chosen, rehearse_study, write_grid
from evenhand.steps.rehearse_options import costs_of
from evenhand.steps.take import take_logs
from evenhand.study.model import Costs
from evenhand.units import log_of_percent

NOTHING = {"hours": None, "suppose": (), "studies": 100, "seed": 1, "further": None}
FEW = chosen(**NOTHING)  # type: ignore[arg-type]
NOISE = NoiseChoice()


def rehearsed(folder: Path, **more: object) -> Rehearsed:
    return rehearse_study(folder, **{"wishes": FEW, "noise": NOISE, **more})  # type: ignore[arg-type]


def anchors(found: Rehearsed) -> list[str]:
    return [s.anchor for s in found.sections]


def test_a_study_without_runs_is_rehearsed_as_planned(folder: Path) -> None:
    found = rehearsed(folder)
    assert not found.rehearsal.recorded and found.rehearsal.scheme.visits == 2
    assert found.rehearsal.scheme.scenes == (1, 2)
    assert [e.measure.key for e in found.rehearsal.expected] == ["average", "low1_percentile"]
    assert anchors(found) == ["expect", "hours", "trust", "rests"]
    assert found.sections[0].heading.startswith("As planned, ")
    assert "supposed, not measured" in found.sections[-1].heading


def test_a_recorded_study_is_rehearsed_with_its_own_noise(judged: Path) -> None:
    found = rehearsed(judged).rehearsal
    noise = judge_study(judged).opened.outcome.shown.measures["average"].noise
    spreads = found.expected[0].spreads
    assert found.recorded and spreads.source == "this study's own visits"
    assert (found.scheme.visits, found.scheme.runs) == (3, 2)  # as recorded; the protocol asks for two visits
    assert spreads.run == noise.run and spreads.visit == noise.shift and spreads.run_df == noise.run_df
    assert anchors(rehearsed(judged))[:1] == ["expect"]
    assert found.next_visits is not None and found.next_visits.best == "lean"


def test_other_numbers_of_visits_make_it_a_plan_with_the_noise_that_is_known(judged: Path) -> None:
    found = rehearsed(judged, visits=5, runs=3).rehearsal
    assert not found.recorded and (found.scheme.visits, found.scheme.runs) == (5, 3)
    assert found.expected[0].spreads.source == "this study's own visits"


def test_earlier_books_lend_their_noise(folder: Path, judged: Path) -> None:
    found = rehearsed(folder, like=(judged, judged)).rehearsal
    own = rehearsed(judged).rehearsal.expected[0].spreads
    spreads = found.expected[0].spreads
    assert spreads.source == "learned from 2 earlier studies"
    assert spreads.run == pytest.approx(own.run) and spreads.run_df == 2 * (own.run_df or 0)
    assert rehearsed(folder, like=(judged,), measures=("hitches",)).rehearsal.expected[0].measure.key == "hitches"


def test_an_earlier_book_without_runs_lends_nothing(folder: Path, judged: Path) -> None:
    with pytest.raises(UsageError) as error:
        rehearsed(judged, like=(folder,))
    assert [p.slug for p in error.value.problems] == ["nothing-counts"]


def test_an_earlier_book_of_one_visit_is_told_to_tell_nothing(judged: Path, folder: Path, logs: Path, pattern: str) -> None:
    for later in logs.rglob("*-v2-*.csv"):
        later.unlink()
    take_logs(folder, [logs], pattern=pattern)
    found = rehearsed(judged, like=(folder,)).rehearsal
    assert "do not tell its noise. Taken instead: this study's own visits." in found.notes[0]


def test_stated_noise_goes_before_all_else(judged: Path) -> None:
    found = rehearsed(judged, noise=replace(NOISE, run="1.5 %", visit="2%")).rehearsal
    spreads = found.expected[0].spreads
    assert not found.recorded
    assert spreads.run == log_of_percent(1.5) and spreads.visit == log_of_percent(2)
    assert spreads.source == "as stated; the rest: this study's own visits"


def test_a_measure_of_unknown_noise_is_refused(folder: Path) -> None:
    with pytest.raises(UsageError) as error:
        rehearsed(folder, measures=("hitches",))
    [problem] = error.value.problems
    assert problem.slug == "noise-unknown" and "--like FOLDER" in problem.do
    assert {m for m in KINDS["orderly"] if m in problem.do} == set(KINDS["orderly"])


def test_one_visit_so_far_is_said_and_the_plan_rehearsed(folder: Path, logs: Path, pattern: str) -> None:
    for later in logs.rglob("*-v2-*.csv"):
        later.unlink()
    assert len(take_logs(folder, [logs], pattern=pattern).taken) == 4
    found = rehearsed(folder).rehearsal
    assert not found.recorded and "one visit of each setup" in found.notes[0]
    assert found.expected[0].spreads.source == KINDS["orderly"]["average"].source


def test_the_document_says_what_the_terminal_says(judged: Path) -> None:
    found = rehearsed(judged)
    document = json.loads(as_json(found))
    assert document["form"] == "evenhand-rehearse-1"
    told = document["rehearsal"]
    assert told["expected"][0]["at_titles"]["settled"] == found.rehearsal.expected[0].at_titles.settled
    assert told["scheme"]["setups"] == ["plain", "lean"]
    first = told["hours"]["alternatives"][0]
    assert first["visits"] == 1 and first["half_title"] is None


def test_progress_goes_through(folder: Path) -> None:
    told: list[str] = []
    rehearsed(folder, progress=lambda done, total, what: told.append(what))
    assert any("what to expect" in what for what in told)


def test_a_folder_without_a_study_says_so(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="no-study"):
        rehearsed(tmp_path)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"hours": 0.0}, "0 hours are no time to record in"),
        ({"hours": math.nan}, "no time to record in"),
        ({"suppose": ("70%=0", "20%=-2")}, "the shares make 90 %"),
        ({"suppose": ("70%",)}, "'70%' states no difference"),
        ({"suppose": ("much=2",)}, "'much' is no percentage"),
    ],
)
def test_options_that_say_nothing_are_refused_with_the_way_out(changed: dict[str, object], said: str) -> None:
    with pytest.raises(UsageError) as error:
        chosen(**{**NOTHING, **changed})  # type: ignore[arg-type]
    [problem] = error.value.problems
    assert problem.slug == "option-unclear" and said in problem.what and problem.do


@pytest.mark.parametrize("noise", [NoiseChoice("loud"), NoiseChoice(run="much"), NoiseChoice(visit="-1%")])
def test_noise_that_says_nothing_is_refused(folder: Path, noise: NoiseChoice) -> None:
    with pytest.raises(UsageError, match="option-unclear"):
        rehearsed(folder, noise=noise)


def test_the_whole_grid_is_counted_and_its_page_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A short grid in place of the whole one, by the same way."""
    few = calibration.grid()[:2]
    monkeypatch.setattr(calibration, "grid", lambda: few)
    [said] = write_grid(tmp_path / "new" / "page.md", 60)
    page = (tmp_path / "new" / "page.md").read_text(encoding="utf-8")
    assert page.startswith("# Calibration") and "60 studies of each" in page
    assert said == f"Wrote {tmp_path / 'new' / 'page.md'}: 60 studies of each kind."


def test_options_are_understood() -> None:
    found = chosen(hours=8, suppose=("60 %=0", "40%=-1.5"), studies=500, seed=3, further=6)
    assert found.supposed == (Difference(0.6, 0), Difference(0.4, -1.5))
    assert (found.hours, found.studies, found.seed, found.further) == (8, 500, 3, 6)


def test_minutes_are_those_of_the_study_unless_said_otherwise() -> None:
    stated = Costs(apply=9, settle=0, disk_gb=500)
    assert costs_of(("warm-up=0", "scene=1.5"), stated) == replace(stated, warm_up=0, scene=1.5)
    assert costs_of((), stated) == stated


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("reboot=4", "'reboot=4' states no minutes"),
        ("apply=-1", "'apply=-1' states no minutes"),
        ("apply", "'apply' states no minutes"),
        ("scene=0", "a scene takes some time"),
        ("disk-gb=4", "'disk-gb=4' states no minutes"),
    ],
)
def test_minutes_that_say_nothing_are_refused(typed: str, said: str) -> None:
    with pytest.raises(UsageError) as error:
        costs_of((typed,), Costs())
    [problem] = error.value.problems
    assert problem.slug == "option-unclear" and said in problem.what and problem.do
