"""Capped: frames pile up at one frame time that other runs of the scene undercut."""

from __future__ import annotations

from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.found import Found, doubt, note
from evenhand.screening.survey import PILE_WIDTH, SceneSurvey, Survey, Traits
from evenhand.wording import counted

_AT_THE_EDGE: Final = 0.1  # share of frames that may be faster than a cap (late frames are caught up)
_MORE_THAN_OTHERS: Final = 0.25  # share by which the pile-up exceeds that of the cell's other runs
_FASTER: Final = 0.2  # share of another run's frames under the cap that shows that the scene can run faster
_SAME_CAP: Final = 0.01  # relative difference of caps that are one
_COMMON: Final = (30, 40, 45, 48, 50, 60, 72, 75, 90, 100, 120, 141, 144, 160, 162, 165, 180, 200, 240, 300, 360, 480)


def find(survey: Survey, threshold: float) -> Found:
    """Runs with at least `threshold` of their frames in one pile-up at the fast edge. Doubtful where another run of the scene
    runs faster; where none does, the scene or setup reaches a cap, which is a note.
    """
    found = Found()
    for scene in survey.scenes:
        piled = [int(i) for i in scene.members if _piled(survey.traits[int(i)], threshold)]
        notes: list[int] = []
        for i in piled:
            if _known(survey, i) or not _others_run_faster(survey, scene, i):
                notes.append(i)
            elif _steady_by_nature(survey, scene, i):
                continue
            else:
                _report(found, survey, i)
        _report_scene(
            found, survey, scene, [i for i in notes if not _steady_by_nature(survey, scene, i) or _same_rate(survey, notes)]
        )
    return found


def _piled(traits: Traits, threshold: float) -> bool:
    return traits.pile_share >= threshold and traits.pile_below <= _AT_THE_EDGE


def _cap(traits: Traits) -> float:
    """The cap a second that a pile-up stands for: the common one inside it, else its middle."""
    middle = 1e3 / (traits.pile_ms * (1 + PILE_WIDTH / 2))
    near = min(_COMMON, key=lambda c: abs(np.log(c / middle)))
    return float(near) if abs(np.log(near / middle)) <= PILE_WIDTH / 2 else middle


def _known(survey: Survey, i: int) -> bool:
    stated = survey.runs[i].scene.cap
    return stated is not None and abs(np.log(stated / _cap(survey.traits[i]))) <= PILE_WIDTH


def _others_run_faster(survey: Survey, scene: SceneSurvey, i: int) -> bool:
    """Whether some other run has a good share of its frames clearly under the pile-up."""
    edge = survey.traits[i].pile_ms * (1 - PILE_WIDTH) * 1e6
    return any(float(np.mean(survey.runs[int(j)].cut.counted.ns < edge)) >= _FASTER for j in scene.members if j != i)


def _steady_by_nature(survey: Survey, scene: SceneSurvey, i: int) -> bool:
    """Whether the cell's other runs pile up as much, each at its own rate: a steady scene, not a cap."""
    row = int(np.flatnonzero(scene.members == i)[0])
    mates = scene.members[scene.mates(row)]
    others = mates if mates.size else scene.members[scene.members != i]
    if others.size == 0:
        return _cap(survey.traits[i]) not in _COMMON
    shares: Floats = np.array([survey.traits[int(j)].pile_share for j in others])
    return bool(survey.traits[i].pile_share - np.median(shares) < _MORE_THAN_OTHERS)


def _same_rate(survey: Survey, runs: list[int]) -> bool:
    at = [survey.traits[i].pile_ms for i in runs]
    return len(at) > 1 and max(at) / min(at) - 1 <= _SAME_CAP


def _report(found: Found, survey: Survey, i: int) -> None:
    traits = survey.traits[i]
    cap = _cap(traits)
    said = (
        f"{traits.pile_share:.0%} of frames last within {PILE_WIDTH:.0%} of {1e3 / cap:.1f} ms: a cap at {cap:.0f} a second, "
        "which other runs of the scene exceed."
    )
    evidence = {"share": traits.pile_share, "cap": cap, "ms": traits.pile_ms}
    found.flags.append(doubt(survey.key(i), "capped", said, evidence))


def _report_scene(found: Found, survey: Survey, scene: SceneSurvey, runs: list[int]) -> None:
    if not runs:
        return
    cap = float(np.median([_cap(survey.traits[i]) for i in runs]))
    keys = tuple(survey.key(i) for i in runs)
    if len(runs) == scene.members.size:
        said = f"Every run of the scene is held at {cap:.0f} frames a second"
    else:
        are = "is" if len(runs) == 1 else "are"
        said = f"{counted(len(runs), 'run')} of the scene {are} held at {cap:.0f} frames a second, and no run is faster"
    stated = " (the cap that the study states)" if _known(survey, runs[0]) else ""
    advice = "setups that reach the cap cannot be told apart here; the lows may still say something"
    share = float(np.median([survey.traits[i].pile_share for i in runs]))
    found.flags.append(note(keys[0], "capped", f"{said}{stated}.", {"cap": cap, "share": share}, advice, keys))
