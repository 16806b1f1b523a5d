"""Same log taken twice."""

from __future__ import annotations

import numpy as np

from evenhand.screening.found import Found, doubt
from evenhand.screening.model import Flag, ScreenedRun
from evenhand.screening.survey import Survey

_LEAST_FRAMES = 50  # fewer durations can agree by chance where the clock is coarse
_ROUNDING = 2e-3  # of the median duration: what saving with fewer digits may change
_TOTALS = 1e-4  # relative difference of total times that rounding may leave
_LEAST_SPREAD = 0.01  # frames that all last the same agree in any two runs


def find(survey: Survey, threshold: float) -> Found:
    """Runs whose frames are those of an earlier run; threshold is not used: agreement is complete or it is not."""
    found = Found()
    first: dict[str, int] = {}
    places: dict[tuple[int, int], list[int]] = {}
    for i, run in enumerate(survey.runs):
        twin = first.setdefault(run.sha256, i)
        same_bytes = twin != i
        if not same_bytes:
            size, where = len(run.whole), round(np.log(float(run.whole.ns.sum())) / _TOTALS)
            near = [j for w in (where - 1, where, where + 1) for j in places.get((size, w), [])]
            twin = next((j for j in near if _same_frames(survey.runs[j], run)), i)
            places.setdefault((size, where), []).append(i)
        if twin != i:
            found.flags.append(_flag(survey.runs[twin], run, same_bytes))
    return found


def _same_frames(a: ScreenedRun, b: ScreenedRun) -> bool:
    usual = float(np.median(a.whole.ns))
    close = np.abs(a.whole.ns - b.whole.ns).max() <= _ROUNDING * usual
    return bool(len(a.whole) >= _LEAST_FRAMES and close and np.std(a.whole.ns) > _LEAST_SPREAD * usual)


def _flag(earlier: ScreenedRun, run: ScreenedRun, same_bytes: bool) -> Flag:
    key = earlier.key
    how = "The log is, byte for byte," if same_bytes else "Every duration is"
    place = "" if (key.title, key.scene) == (run.key.title, run.key.scene) else f" of {key.title}/{key.scene}"
    whose = f"that of run {key.run} of visit {key.visit}{place}"
    other = "" if key.setup == run.key.setup else ", under another setup"
    return doubt(run.key, "same-log", f"{how} {whose}{other}.", {"frames": float(len(run.whole))})
