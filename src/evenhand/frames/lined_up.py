"""Line a sensor log up with a recording where no clock times do: by the rise of a load or of the power at the scene's start."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Floats, Sensor
from evenhand.frames.sensors import SensorLog

#: In this order a column is asked where the scene began.
MARKS: Final = (Sensor.GRAPHICS_LOAD, Sensor.POWER, Sensor.LOAD)
#: A rise counts when the level after it is so many spreads, and such a share of itself, above the level before.
CLEAR_SPREADS: Final = 6.0
CLEAR_SHARE: Final = 0.2
FEWEST: Final = 4  # samples on either side
MAD_TO_SIGMA: Final = 1.4826


@dataclass(frozen=True, slots=True)
class Rise:
    """Where a scene began in a sensor log: seconds of its own times, how far off that may be, and what told it."""

    at: float
    unsure_s: float
    by: Sensor


def find_rise(log: SensorLog, seconds: float) -> Rise | None:
    """The start of a stretch of `seconds` whose level is clearly above what was before it.

    Of all starts for which the log holds the whole stretch, the one at which the squared errors about a level before and a
    level in the stretch are least (a least-squares change point). None where no column shows a clear one.
    """
    for sensor in MARKS:
        values = log.values.get(sensor)
        if values is None or np.isnan(values).any():
            continue
        found = _best(log.seconds, values, seconds)
        if found is not None and _clear(values[: found[0]], values[found[0] : found[1]]):
            first = found[0]
            # The scene began after the last low sample and no later than the first high one.
            at = (log.seconds[first - 1] + log.seconds[first]) / 2
            return Rise(float(at), float(log.seconds[first] - log.seconds[first - 1]) / 2, sensor)
    return None


def _best(times: Floats, values: Floats, seconds: float) -> tuple[int, int] | None:
    """(first sample of the stretch, the one after its last)."""
    sums, squares = (np.concatenate(([0.0], np.cumsum(v))) for v in (values, values**2))

    def errors(a: int, b: int) -> float:
        return float(squares[b] - squares[a] - (sums[b] - sums[a]) ** 2 / (b - a))

    best: tuple[float, int, int] | None = None
    for first in range(FEWEST, values.size - FEWEST):
        last = int(np.searchsorted(times, times[first] + seconds))
        if times[-1] < times[first] + seconds - (times[first] - times[first - 1]) or last - first < FEWEST:
            break
        before = first - min(first, last - first)
        error = (errors(before, first) + errors(first, last)) / (last - before)
        rises = (sums[last] - sums[first]) / (last - first) > (sums[first] - sums[before]) / (first - before)
        gain = errors(before, last) / (last - before) - error
        if rises and (best is None or gain > best[0]):
            best = (gain, first, last)
    return None if best is None else best[1:]


def _clear(before: Floats, inside: Floats) -> bool:
    low, high = float(np.median(before)), float(np.median(inside))
    spread = MAD_TO_SIGMA * max(float(np.median(np.abs(before - low))), float(np.median(np.abs(inside - high))))
    return high - low > max(CLEAR_SPREADS * spread, CLEAR_SHARE * abs(high))
