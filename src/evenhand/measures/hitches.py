"""Hitches: frames that stand out of their neighbourhood.

A frame is a hitch when it is longer than the local median m by at least 8 ms and by more than the factor exp(K · s), where s is
the robust spread of the log durations around it. How K was found, and how often the rule errs: docs/methods/hitches.md.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from evenhand.frames.model import Floats, Frames

AT_LEAST_MS: Final = 8.0
K: Final = 8.0
NEIGHBOURHOOD_S: Final = 0.5
FEWEST: Final = 15
MOST: Final = 301
#: Turns a median of absolute deviations into a standard deviation, for normal data.
MAD_TO_SIGMA: Final = 1.4826


def hitch_marks(frames: Frames) -> NDArray[np.bool_]:
    """Which frames are hitches, shape (n,); none in a log that is shorter than one neighbourhood."""
    if len(frames) < neighbourhood(len(frames), frames.seconds):
        return np.zeros(len(frames), dtype=np.bool_)
    ms = frames.ms
    local, spread = course_and_spread(frames)
    return np.asarray((ms - local >= AT_LEAST_MS) & (np.log(ms / local) > K * spread), dtype=np.bool_)


def course_and_spread(frames: Frames) -> tuple[Floats, Floats]:
    """Local median (ms) and robust spread of the log durations around it, each of shape (n,).

    A calm place in a rough run is measured by the run's usual spread: few frames give too unsure a spread of their own.
    """
    width = neighbourhood(len(frames), frames.seconds)
    ms = frames.ms
    local = _running_median(ms, width)
    spread = MAD_TO_SIGMA * _running_median(np.abs(np.log(ms / local)), width)
    return local, np.maximum(spread, np.median(spread))


def neighbourhood(frames: int, seconds: float) -> int:
    """Width of a frame's neighbourhood in frames: half a second at the run's own rate, odd, between 15 and 301."""
    wanted = int(np.clip(NEIGHBOURHOOD_S * frames / seconds, FEWEST, MOST))
    return wanted | 1


def moments(marks: NDArray[np.bool_]) -> int:
    """Number of hitches: neighbouring marked frames are one."""
    return int(marks[0]) + int(np.count_nonzero(marks[1:] & ~marks[:-1])) if marks.size else 0


def _running_median(values: Floats, width: int) -> Floats:
    return np.asarray(median_filter(values, size=width, mode="nearest"), dtype=np.float64)
