"""Too short or cut off."""

from __future__ import annotations

import numpy as np

from evenhand.screening.found import Found, doubt, share_words
from evenhand.screening.survey import SceneSurvey, Survey


def find(survey: Survey, threshold: float) -> Found:
    """Runs that lack more than `threshold` of their scene: by the scene's stretch, its stated length, or the other runs."""
    found = Found()
    for scene in survey.scenes:
        usual = _usual_length(survey, scene)
        for i in scene.members:
            run, traits = survey.runs[i], survey.traits[i]
            stated = run.scene.seconds if not scene.by_frames else None
            lacking = max(run.cut.missing, 1 - traits.tail / usual if usual else 0.0, 1 - traits.tail / stated if stated else 0.0)
            if lacking <= threshold:
                continue
            of = f"{traits.tail:.0f} of {scene.length:.0f} frames" if scene.by_frames else f"{traits.tail:.1f} s"
            said = f"The log ends early: it holds {of}; {share_words(lacking)} of the scene is missing."
            also = ("other-content",)
            found.flags.append(doubt(run.key, "too-short", said, {"missing": lacking, "tail": traits.tail}, also=also))
    return found


def _usual_length(survey: Survey, scene: SceneSurvey) -> float:
    """Frames from start to end that most runs of a scene of fixed frames have; 0 where they have not. By the clock, logs
    are stopped by hand, and only the stretch says what is too short.
    """
    tails = np.array([survey.traits[i].tail for i in scene.members])
    usual = float(np.median(tails))
    agree = np.mean(np.abs(tails - usual) <= 0.005 * usual)
    return usual if scene.by_frames and scene.members.size > 2 and agree > 0.5 else 0.0
