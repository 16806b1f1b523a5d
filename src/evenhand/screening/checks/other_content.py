"""Other content: the run does not show the scene of the others."""

from __future__ import annotations

import numpy as np

from evenhand.screening.content import LEAST_BINS, matches
from evenhand.screening.found import Found, doubt, note
from evenhand.screening.survey import SceneSurvey, Survey

_SHARE_OF_USUAL = 0.5  # a run with half of the scene's usual match may still be of the scene
_TELLING = 2.0  # limit below which chance alone reaches it too often
_LONGER = 0.02  # of the scene's frames: a log of a scene of fixed frames that goes on so much longer shows another


def find(survey: Survey, threshold: float) -> Found:
    """Runs whose match is below `threshold`, or below half of the usual match where the scene is flat."""
    found = Found()
    for scene in survey.scenes:
        match = matches(scene)
        if scene.members.size < 2:
            continue
        usual = float(np.nanmedian(match)) if not np.all(np.isnan(match)) else 0.0
        limit = min(threshold, _SHARE_OF_USUAL * usual)
        if limit < _TELLING:
            found.untold.append(_why_untold(scene, usual))
        for row, i in enumerate(scene.members):
            short = np.sqrt(np.mean(~np.isnan(scene.shapes[row])))  # a piece matches less, with the root of its length
            if limit >= _TELLING and match[row] < limit * short:
                _report(found, survey, scene, int(i), float(match[row]), usual)
            elif limit < threshold and _goes_on(survey, scene, int(i)):
                _report_longer(found, survey, int(i), scene.length)
    return found


def _report(found: Found, survey: Survey, scene: SceneSurvey, i: int, match: float, usual: float) -> None:
    key = survey.key(i)
    evidence = {"match": match, "usual": usual}
    if scene.members.size == 2:
        said = "The two runs of this scene do not show the same content; which of them is of the scene cannot be told."
        found.flags.append(note(key, "other-content", said, evidence))
        return
    said = (
        "The course of the frame times does not follow the other runs of the scene: their agreement stands out by "
        f"{match:.1f} standard deviations, where {usual:.1f} is usual."
    )
    found.flags.append(doubt(key, "other-content", said, evidence))


def _goes_on(survey: Survey, scene: SceneSurvey, i: int) -> bool:
    tails = np.array([survey.traits[j].tail for j in scene.members])
    usual = float(np.median(tails))
    fixed = np.mean(np.abs(tails - usual) <= 0.005 * usual) > 0.5
    return bool(scene.by_frames and fixed and scene.members.size > 2 and survey.traits[i].tail > usual * (1 + _LONGER))


def _report_longer(found: Found, survey: Survey, i: int, length: float) -> None:
    tail = survey.traits[i].tail
    said = f"The log holds {tail:.0f} frames where the scene has {length:.0f}."
    found.flags.append(doubt(survey.key(i), "other-content", said, {"frames": tail, "usual": length}))


def _why_untold(scene: SceneSurvey, usual: float) -> str:
    name = scene.title if scene.title == scene.scene else f"{scene.title}/{scene.scene}"
    if scene.courses.shape[1] < LEAST_BINS:
        return f"{name}: too few frames to tell by the course whether a run shows this scene."
    return (
        f"{name}: the course of the scene is too flat, or differs too much from run to run, to tell other content by it "
        f"(runs agree by {usual:.1f} standard deviations; 4 are needed)."
    )
