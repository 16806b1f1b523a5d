"""What sensors say of a run: mean power, energy of a frame, ranges of temperature and clock, signs of throttling.

Formulas, limits and tests: docs/methods/energy.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from evenhand.frames.model import Floats, Sensor
from evenhand.frames.sensors import SensorLog
from evenhand.measures.model import RunSensors

#: A gap of more steps than this in the log of power leaves the energy unknown.
LONGEST_GAP: Final = 5.0
#: Throttling: the clock is at least this share lower while hottest, there are so many samples of both, and the load stays.
FALL: Final = 0.03
HOTTEST_K: Final = 1.0
FEWEST_SAMPLES: Final = 5
LOAD_STAYS: Final = 5.0


def integral(seconds: Floats, values: Floats, begin: float, end: float) -> float | None:
    """∫ values dt from `begin` to `end`, by trapezoids with values between samples on a straight line.

    seconds, values : (n,), rising; NaN values are left out. None where the samples do not reach from `begin` to `end` or leave
    a gap of more than five usual steps there. In units of the value times seconds (watts: joules).
    """
    there = ~np.isnan(values)
    at, known = seconds[there], values[there]
    if at.size < 2 or begin < at[0] or end > at[-1] or not begin < end:
        return None
    inside = (at > begin) & (at < end)
    x = np.concatenate(([begin], at[inside], [end]))
    first, last = int(np.searchsorted(at, begin, "right")) - 1, int(np.searchsorted(at, end))
    if np.diff(at[first : last + 1]).max() > LONGEST_GAP * float(np.median(np.diff(seconds))):
        return None
    return float(np.trapezoid(np.interp(x, at, known), x))


def run_sensors(log: SensorLog, begin: float, end: float, frames: int, how: str, unsure_s: float) -> RunSensors:
    """What a log says of `frames` frames drawn from `begin` to `end`, in seconds of the log's own times."""
    within = (log.seconds >= begin) & (log.seconds <= end)
    means = {
        sensor: None if (area := integral(log.seconds, values, begin, end)) is None else area / (end - begin)
        for sensor, values in log.values.items()
    }
    power = means.get(Sensor.POWER)
    cut = {sensor: values[within] for sensor, values in log.values.items()}
    known = {sensor: values[~np.isnan(values)] for sensor, values in cut.items()}
    return RunSensors(
        how=how,
        unsure_s=unsure_s,
        power=power,
        energy=None if power is None or power <= 0 else power * (end - begin) / frames,
        load=means.get(Sensor.LOAD),
        graphics_load=means.get(Sensor.GRAPHICS_LOAD),
        ranges={sensor: (float(values.min()), float(values.max())) for sensor, values in known.items() if values.size},
        throttled=throttling(cut),
    )


def throttling(values: Mapping[Sensor, Floats]) -> float | None:
    """By what share the clock is lower while the temperature is within 1 K of its highest than before, the load staying.

    None where there is no such fall, or no column to tell it by. values : each (n,), of one run, in order of time.
    """
    if Sensor.CLOCK not in values or Sensor.TEMPERATURE not in values:
        return None
    clock, warm, load = values[Sensor.CLOCK], values[Sensor.TEMPERATURE], values.get(Sensor.LOAD)
    if np.isnan(warm).all():
        return None
    hot = warm >= np.nanmax(warm) - HOTTEST_K
    cool = ~hot & ~np.isnan(warm) & (np.arange(hot.size) < int(np.argmax(hot)))
    hot, cool = hot & ~np.isnan(clock), cool & ~np.isnan(clock)
    if min(int(hot.sum()), int(cool.sum())) < FEWEST_SAMPLES:
        return None
    if load is not None and not float(np.nanmedian(load[hot])) >= float(np.nanmedian(load[cool])) - LOAD_STAYS:
        return None
    fall = 1 - float(np.median(clock[hot])) / float(np.median(clock[cool]))
    return fall if fall >= FALL else None
