"""Clock trouble: intervals of nearly nothing, or a clock too coarse for the frames."""

from __future__ import annotations

from typing import Final

import numpy as np

from evenhand.frames.model import Nanoseconds
from evenhand.screening.found import Found, doubt, note, share_words
from evenhand.screening.survey import Survey

_NOTHING: Final = 0.02  # of the median frame: no frame is drawn in so little; its stamp is a repeated one
_COARSE: Final = 0.02  # of the median frame: a tick that shows in a 1 % low
_APART_NS: Final = 2000  # durations nearer than this are one value of a coarse clock, rounded
_VALUES: Final = 0.2  # distinct values to frames, above which a clock is not coarse
_LEAST_FRAMES: Final = 50
_LOOKED_AT: Final = 2000  # frames show a clock's step


def find(survey: Survey, threshold: float) -> Found:
    """Doubtful where more than `threshold` of the frames take nearly no time; a note where the clock's tick is coarse."""
    found = Found()
    ticks: dict[float, list[int]] = {}
    for i, run in enumerate(survey.runs):
        ns = run.cut.counted.ns
        usual = float(np.median(ns))
        share = float(np.mean(ns < _NOTHING * usual))
        if share > threshold and ns.size >= _LEAST_FRAMES:
            said = (
                f"{share_words(share, 2)} of frames take nearly no time: stamps are repeated or late, and slow frames are not to "
                "be trusted."
            )
            found.flags.append(doubt(run.key, "clock-trouble", said, {"share": share}))
        tick = tick_ms(ns)
        if tick * 1e6 > _COARSE * usual:
            ticks.setdefault(round(tick, 2), []).append(i)
    for tick, runs in ticks.items():
        keys = tuple(survey.key(i) for i in runs)
        said = f"The clock of the log ticks every {tick:g} ms, more than a fiftieth of a frame: lows are no finer than that."
        found.flags.append(note(keys[0], "clock-trouble", said, {"tick_ms": tick}, "use a recorder with a finer clock", keys))
    return found


def tick_ms(ns: Nanoseconds) -> float:
    """Step of the clock in milliseconds where the durations keep to few values, else 0."""
    if ns.size < _LEAST_FRAMES:
        return 0.0
    ns = ns[:_LOOKED_AT]
    gaps = np.diff(np.unique(ns))
    steps = gaps[gaps > _APART_NS]
    if steps.size == 0 or steps.size + 1 > _VALUES * ns.size:
        return 0.0
    return float(np.min(steps) / 1e6) if steps.size >= gaps.size / 4 else 0.0
