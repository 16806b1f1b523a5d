"""Capped: frames pile up at one frame time that other runs of the scene undercut."""

from __future__ import annotations

from typing import Final

import numpy as np

from evenhand.screening.found import Found, doubt, note, share_words
from evenhand.screening.survey import PILE_WIDTH, SceneSurvey, Survey, Traits
from evenhand.wording import counted

_AT_THE_EDGE: Final = 0.1  # share of frames that may be faster than a cap (late frames are caught up)
_MORE_THAN_OTHERS: Final = 0.25  # share by which the pile-up exceeds that of the cell's other runs
_FASTER: Final = 0.2  # share of another run's frames under the cap that shows that the scene can run faster
_SAME_CAP: Final = 0.003  # relative difference of pile-ups at one cap; what is steady by nature varies more
_NEAR_COMMON: Final = 0.006  # of a common cap: limiters and displays keep to it that well
_COMMON: Final = (30, 40, 45, 48, 50, 60, 72, 75, 90, 100, 120, 141, 144, 160, 162, 165, 180, 200, 240, 300, 360, 480)


def find(survey: Survey, threshold: float) -> Found:
    """Runs with at least `threshold` of their frames in one pile-up at the fast edge. Doubtful where another run of the scene
    runs faster; where none does, the scene or setup reaches a cap, which is a note.
    """
    found = Found()
    for scene in survey.scenes:
        piled = [int(i) for i in scene.members if _piled(survey.traits[int(i)], threshold)]
        several = len({survey.key(i).setup for i in piled}) > 1
        one_cap = bool(piled) and _at_one_rate(survey, piled) and (several or _nameable(survey, piled[0]))
        reach: list[int] = []
        for i in piled:
            if not one_cap and _steady_by_nature(survey, scene, i):
                continue
            if _known(survey, i) or not _others_run_faster(survey, scene, i):
                reach.append(i)
            else:
                _report(found, survey, i)
        _report_scene(found, survey, scene, reach)
    return found


def _piled(traits: Traits, threshold: float) -> bool:
    return traits.pile_share >= threshold and traits.pile_below <= _AT_THE_EDGE


def _cap(traits: Traits) -> float:
    """The cap a second that a pile-up stands for: a common one where it is near enough, else its own rate."""
    rate = 1e3 / traits.pile_ms
    near = min(_COMMON, key=lambda c: abs(np.log(c / rate)))
    return float(near) if abs(np.log(near / rate)) <= _NEAR_COMMON else rate


def _known(survey: Survey, i: int) -> bool:
    stated = survey.runs[i].scene.cap
    return stated is not None and abs(np.log(stated / _cap(survey.traits[i]))) <= PILE_WIDTH


def _others_run_faster(survey: Survey, scene: SceneSurvey, i: int) -> bool:
    """Whether some other run has a good share of its frames clearly under the pile-up."""
    edge = survey.traits[i].pile_ms * (1 - PILE_WIDTH) * 1e6
    return any(float(np.mean(survey.runs[int(j)].cut.counted.ns < edge)) >= _FASTER for j in scene.members if j != i)


def _steady_by_nature(survey: Survey, scene: SceneSurvey, i: int) -> bool:
    """Whether the cell's other runs (in a cell of one, the scene's) pile up as much, each at its own rate: a steady scene."""
    row = int(np.flatnonzero(scene.members == i)[0])
    mates = scene.members[scene.mates(row)]
    others = [int(j) for j in (mates if mates.size else scene.members[scene.members != i])]
    if not others:
        return not _nameable(survey, i)
    shares = [survey.traits[j].pile_share for j in others]
    alike = survey.traits[i].pile_share - float(np.median(shares)) < _MORE_THAN_OTHERS
    return alike and not (_nameable(survey, i) and _at_one_rate(survey, [i, *others]))


def _nameable(survey: Survey, i: int) -> bool:
    return _cap(survey.traits[i]) in _COMMON or _known(survey, i)


def _at_one_rate(survey: Survey, runs: list[int]) -> bool:
    at = [survey.traits[i].pile_ms for i in runs]
    return max(at) / min(at) - 1 <= _SAME_CAP


def _report(found: Found, survey: Survey, i: int) -> None:
    traits = survey.traits[i]
    cap = _cap(traits)
    held = f"{share_words(traits.pile_share)} of frames last within {share_words(PILE_WIDTH)} of {traits.pile_ms:.1f} ms"
    said = f"{held}: a cap at {cap:.0f} a second, which other runs of the scene exceed."
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
