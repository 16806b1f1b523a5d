"""Where in each scene setups differ: the runs' pace in a few dozen bins, averaged by visit, handed to the judge."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from evenhand.frames.model import Stretch
from evenhand.frames.profile import Course
from evenhand.judging.along import ScenePaces, along_scene
from evenhand.judging.model import Along, Judgement
from evenhand.steps.runs import LoggedRun, StudyRun, framed
from evenhand.steps.scenes import scene_name
from evenhand.study.model import Pace, Study

Floats: TypeAlias = npt.NDArray[np.float64]
Place: TypeAlias = tuple[str, str]

#: Numbers of bins; few of them, so that scenes share what is worked out for a number.
BINS: Final = (30, 20, 12, 6)
LEAST_FRAMES: Final = 8  # in a bin of the shortest run


def scene_differences(
    study: Study, runs: Sequence[StudyRun], stretches: Mapping[str, Stretch], judged: Judgement
) -> dict[Place, tuple[Along, ...]]:
    """(title, scene) -> every setup against the baseline along it, from the runs that count; scenes that cannot bear it left out.

    Rounds are blocks where they are in the judgement of the average.
    """
    average = judged.measures.get("average")
    if average is None or judged.one_visit:
        return {}
    by_scene: dict[Place, list[LoggedRun]] = defaultdict(list)
    for run in framed(runs):
        if run.counts:
            by_scene[run.key.title, run.key.scene].append(run)
    found = {}
    for place, own in by_scene.items():
        paces = _paces(study, own, stretches[scene_name(own[0].key)])
        along = along_scene(paces, margin=average.margin, confidence=study.confidence, rounds=average.rounds_used)
        if along:
            found[place] = along
    return found


def _paces(study: Study, runs: Sequence[LoggedRun], stretch: Stretch) -> ScenePaces:
    """The runs of one scene; the baseline first, then the other setups that have runs, in the study's order."""
    key = runs[0].key
    has = {r.key.setup for r in runs}
    order = [study.baseline, *(s.name for s in study.setups if s.name != study.baseline)]
    setups = tuple(name for name in order if name in has) if study.baseline in has else ()
    visits = sorted({r.key.visit for r in runs})
    by_frames = stretch.pace == Pace.FRAMES
    length = stretch.length or min(float(len(r.cut.counted)) if by_frames else r.cut.counted.seconds for r in runs)
    bins = _bins(min(len(r.cut.counted) for r in runs))
    logs = np.full((len(setups), len(visits), bins), np.nan)
    for c, setup in enumerate(setups):
        for v, visit in enumerate(visits):
            own = [_logs(r, stretch.pace, bins, length) for r in runs if (r.key.setup, r.key.visit) == (setup, visit)]
            if own:
                logs[c, v] = _mean(np.array(own))
    edges = tuple(np.linspace(0.0, length, bins + 1).tolist())
    return ScenePaces(key.title, key.scene, setups, logs, "frames" if by_frames else "seconds", edges)


def _bins(frames: int) -> int:
    return next((b for b in BINS if frames >= LEAST_FRAMES * b), BINS[-1])


def _logs(run: LoggedRun, pace: str, bins: int, length: float) -> Floats:
    """(bins,): logarithm of the rate; the end of a log that stops a frame or two short of the stretch counts as there."""
    course = Course.of(run.cut.counted, pace)
    short = length - float(course.place[-1])
    rates = course.rates(bins, length - short if 0 < short < length / bins else length, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.where(rates > 0, rates, np.nan)))


def _mean(logs: Floats) -> Floats:
    """(bins,): mean over the runs (R, bins) that reach a bin; NaN where none does."""
    there = ~np.isnan(logs)
    count = there.sum(axis=0)
    return np.where(count > 0, np.where(there, logs, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)
