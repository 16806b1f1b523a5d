"""From frames to the places of a scene where setups differ."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.model import Cut, Frames, Start, Stretch
from evenhand.judging.judge import judge
from evenhand.judging.model import Verdict
from evenhand.measures.compute import measure_run
from evenhand.steps.along import scene_differences
from evenhand.steps.runs import LoggedRun, rows
from evenhand.steps.verdicts import design_of
from evenhand.study.model import Pace, RunKey, Scene, Setup, Study, Title

SECONDS = 24.0


def study_of(pace: Pace) -> Study:
    title = Title("night-ferry", "Night Ferry", (Scene("deck", "Deck", pace=pace),))
    return Study("?", "plain", (Setup("plain", "Plain"), Setup("lean", "Lean")), (title,))


def run_of(setup: str, visit: int, run: int, pace: Pace, slow: float) -> LoggedRun:
    """100 frames a second; under `lean`, the third quarter of the scene takes `slow` times as long."""
    rng = np.random.default_rng(100 * visit + 10 * run + len(setup))
    place = np.arange(2400) / 2400
    ms = 10.0 * np.exp(rng.normal(0, 0.02, 2400))
    if setup == "lean":
        ms = np.where((place >= 0.5) & (place < 0.75), slow * ms, ms)
    if pace is Pace.CLOCK:
        ms = ms[np.cumsum(ms) <= 1000 * SECONDS]
    frames = Frames(np.rint(ms * 1e6).astype(np.int64))
    cut = Cut(frames, 0, len(frames), Start(0, 0.0, False, False, ""), 0.0, 0.0)
    measures = measure_run(frames)
    return LoggedRun(RunKey("night-ferry", "deck", setup, visit, run), measures, "", "", "", whole=frames, cut=cut)


@pytest.mark.parametrize("pace", [Pace.FRAMES, Pace.CLOCK])
def test_the_slow_quarter_is_found(pace: Pace) -> None:
    study = study_of(pace)
    runs = [run_of(s, v, r, pace, 1.15) for s in ("plain", "lean") for v in (1, 2, 3) for r in (1, 2)]
    length = 2400.0 if pace is Pace.FRAMES else SECONDS
    stretch = Stretch("night-ferry/deck", pace.value, "", 0.0, length)
    judged = judge(rows(study, runs), design_of(study))
    found = scene_differences(study, runs, {"night-ferry/deck": stretch}, judged)
    (one,) = found["night-ferry", "deck"]
    assert one.unit == ("frames" if pace is Pace.FRAMES else "seconds") and len(one.estimate) == 30
    behind = [p for p in one.passages if p.verdict is Verdict.BEHIND_BEYOND]
    assert behind and sum(p.end - p.begin for p in behind) == pytest.approx(0.25 * length, rel=0.25)
    assert behind[0].begin == pytest.approx(0.5 * length, rel=0.05)
    assert np.median(one.estimate[16:22]) == pytest.approx(np.log(1 / 1.15), abs=0.005)
    assert {p.verdict for p in one.passages} <= {Verdict.BEHIND, Verdict.BEHIND_BEYOND}


def test_one_visit_and_runs_that_do_not_count_tell_nothing() -> None:
    study = study_of(Pace.FRAMES)
    runs = [run_of(s, 1, r, Pace.FRAMES, 1.15) for s in ("plain", "lean") for r in (1, 2)]
    stretches = {"night-ferry/deck": Stretch("night-ferry/deck", "frames", "", 0.0, 2400.0)}
    judged = judge(rows(study, runs), design_of(study))
    assert scene_differences(study, runs, stretches, judged) == {}
