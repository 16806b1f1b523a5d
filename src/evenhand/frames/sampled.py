"""Logs with one row a polling period. They hold averages of many frames and no frame: no low can be had from them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from evenhand.frames.cells import Kind
from evenhand.frames.evidence import GUESSED, SCALE, USUAL_NS, Column, Meaning, durations_of, inside, rates_of
from evenhand.frames.model import Role, Unit

STEADY: Final = 0.1  # variation of the steps of a polling recorder
POLL_S: Final = (0.05, 60.0)  # its period
PER_POLL: Final = 3.0  # frames in it, at least
SHORT_S: Final = 3.0  # no run is shorter
ROUND_S: Final = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)  # periods that people choose
EXACT: Final = 0.02
RATES: Final = (10.0, 1000.0)  # of games, a second
ORDERED: Final = 0.98  # of rows in which a least, a mean and a greatest value stand in that order
EPOCH: Final = 1e8  # whole numbers that go on from here are seconds of a calendar, not rows
LEAST_STEP: Final = 50.0  # whole numbers that go on by less from zero may count rows


def polled(clocks: Sequence[Column], values: Sequence[Column], rows: int) -> tuple[Meaning, ...]:
    """Readings of the average from steady steps of time, in each of which a column tells a rate of several frames.

    None where the steps can as well be frames. rows : of the whole log.
    """
    for clock in clocks:
        unit = _period(clock, rows)
        if unit is None or durations_of(clock, values) or rates_of(clock, values):
            continue
        period_s = float(np.median(clock.steps)) * SCALE[unit] / 1e9
        found = [m for x in values for m in _averages(x, clock, unit, period_s)]
        if found:
            return _middle_one(found, {x.index: x for x in values})
    return ()


def _period(clock: Column, rows: int) -> Unit | None:
    """The unit in which the steps are a polling period and no frames; None where there is none, or several."""
    steps = clock.steps
    usual = float(np.median(steps))
    if not usual > 0 or float(np.median(np.abs(steps - usual))) > STEADY * usual or (np.abs(steps - usual) > usual).mean() > 0.02:
        return None
    if clock.kind is Kind.NUMBER and usual < LEAST_STEP and clock.quantum == 1.0 and clock.values[0] < EPOCH:
        return None  # it may count rows
    units = (Unit.CLOCK,) if clock.kind is not Kind.NUMBER else GUESSED
    fit = [u for u in units if inside(usual * SCALE[u] / 1e9, POLL_S)]
    if len(fit) != 1:
        return None
    frames = [u for u in units if u not in fit and inside(usual * SCALE[u], USUAL_NS)]
    period_s = usual * SCALE[fit[0]] / 1e9
    chosen = any(abs(period_s / s - 1) <= EXACT for s in ROUND_S) and float(np.median(np.abs(steps - usual))) <= EXACT * usual
    if frames and (rows * usual * SCALE[frames[0]] / 1e9 >= SHORT_S or not chosen):
        return None
    return fit[0]


def _averages(x: Column, clock: Column, unit: Unit, period_s: float) -> list[Meaning]:
    """Ways in which a column tells how many frames a period has."""
    middle = float(np.nanmedian(x.values))
    why = "one row a polling period"
    found = []
    if inside(middle, RATES) and middle * period_s >= PER_POLL:
        found.append(Meaning(x.index, Role.RATE, Unit.PER_S, clock.index, unit, proof=1.0, why=why))
    for own in GUESSED:
        mean_s = middle * SCALE[own] / 1e9
        if inside(mean_s * 1e9, USUAL_NS) and period_s / mean_s >= PER_POLL:
            found.append(Meaning(x.index, Role.DURATION, own, clock.index, unit, proof=1.0, why=why))
    return found


def _middle_one(found: Sequence[Meaning], columns: dict[int, Column]) -> tuple[Meaning, ...]:
    """Of rates that are always a least, a mean and a greatest, the mean alone; else all."""
    rates = [m for m in found if m.role is Role.RATE]
    if len(rates) != 3 or len({m.column for m in found}) != 3:
        return tuple(found)
    by_size = sorted(rates, key=lambda m: float(np.nanmedian(columns[m.column].values)))
    low, middle, high = (columns[m.column].values for m in by_size)
    return (by_size[1],) if ((low <= middle) & (middle <= high)).mean() >= ORDERED else tuple(found)
