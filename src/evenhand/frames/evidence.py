"""Evidence in numbers: columns that confirm each other, and what a single column can be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.cells import Kind
from evenhand.frames.model import Floats, Role, Unit

#: Nanoseconds in a unit. A clock time is parsed to nanoseconds.
SCALE: Final = {Unit.S: 1e9, Unit.MS: 1e6, Unit.US: 1e3, Unit.NS: 1.0, Unit.HUNDRED_NS: 100.0, Unit.CLOCK: 1.0}
GUESSED: Final = (Unit.S, Unit.MS, Unit.US, Unit.NS)
PROVABLE: Final = (*GUESSED, Unit.HUNDRED_NS)

USUAL_NS: Final = (1e6, 100e6)  # the median frame of a game: 10 to 1000 a second (common practice, no source)
POSSIBLE_NS: Final = (0.2e6, 500e6)  # beyond this nothing is taken for a frame without evidence of a second column
TICKS_NS: Final = 50e6  # whole numbers that would be slower frames than this as µs may be 100 ns ticks
FOLLOWS: Final = 0.98  # share of rows that must keep the ratio
SAME_SPAN: Final = 0.02  # intervals of one run add up to its length
COARSE_SPAN: Final = 0.005  # the same, said by a clock too coarse to show single frames


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """A column on a sample of rows: values shape (n,), quantum = the smallest step its digits can show."""

    index: int
    values: Floats
    kind: Kind
    quantum: float

    @property
    def steps(self) -> Floats:
        """Differences of neighbours, shape (n - 1,)."""
        return np.diff(self.values)


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way to read frames from a log. elapsed : another column that it rests on, with its unit; its steps may be finer."""

    column: int
    role: Role
    unit: Unit
    elapsed: int | None = None
    elapsed_unit: Unit | None = None
    from_start: bool = False  # row i of elapsed is when frame i began, not ended
    proof: float = 0.0  # 2 = agrees with another column, 1 = a sensible reading of one column, 0.5 = a possible one
    why: str = ""
    follows: float = 0.0  # share of rows in which the other column agrees

    @property
    def scale(self) -> float:
        """Nanoseconds in the unit."""
        return SCALE[self.unit]


def durations_ns(meaning: Meaning, columns: dict[int, Column]) -> Floats:
    """Frame durations of the sample under a reading, nanoseconds, shape (n,) or (n - 1,); NaN where there is none."""
    values = columns[meaning.column].values
    if meaning.role is Role.RATE:
        return 1e9 / np.where(values > 0, values, np.nan)
    return np.diff(values) * meaning.scale if meaning.role is Role.ELAPSED else values * meaning.scale


def durations_of(clock: Column, values: Sequence[Column]) -> list[Meaning]:
    """Columns that keep one ratio to the steps of elapsed time."""
    found: list[Meaning] = []
    why = "its values are the steps of the elapsed time"
    for x, own, from_start in _lined_up(clock, values):
        steps = clock.steps
        ratio = _ratio(own, steps, clock.quantum)
        follows = 0.0 if ratio is None else _share(own - steps * ratio, clock.quantum * ratio + x.quantum, steps * ratio)
        if ratio is None or follows < FOLLOWS or any(m.column == x.index for m in found):
            continue
        middle = float(np.nanmedian(x.values))
        pairs = [(u, v) for u in _units(clock) for v in GUESSED if np.isclose(SCALE[u] / SCALE[v], ratio, rtol=1e-6)]
        fit = [(u, v) for u, v in pairs if inside(middle * SCALE[v], USUAL_NS)]
        fit = fit or [(u, v) for u, v in pairs if inside(middle * SCALE[v], POSSIBLE_NS)]
        found += [Meaning(x.index, Role.DURATION, v, clock.index, u, from_start, 2.0, why, follows) for u, v in fit]
    return found


def rates_of(clock: Column, values: Sequence[Column]) -> list[Meaning]:
    """Columns whose product with the steps of elapsed time is constant: that constant tells the unit of elapsed time."""
    found: list[Meaning] = []
    steps = clock.steps
    good = steps > clock.quantum
    if good.mean() < 0.5:
        return found
    for x, own, from_start in _lined_up(clock, values):
        if x.values.min() <= 0 or any(m.column == x.index for m in found):
            continue
        product = _power(float(np.nanmedian(own[good] * steps[good])))
        unit = next((u for u in _units(clock) if product and np.isclose(1e9 / SCALE[u], product, rtol=1e-6)), None)
        if unit is None or product is None:
            continue
        expected = product / own
        follows = _share(steps - expected, clock.quantum + expected * x.quantum / own, expected)
        if follows >= FOLLOWS:
            why = "its reciprocal is the steps of the elapsed time"
            found.append(Meaning(x.index, Role.RATE, Unit.PER_S, clock.index, unit, from_start, 2.0, why, follows))
    return found


def reciprocal(values: Sequence[Column]) -> list[Meaning]:
    """A duration and a rate that are each other's reciprocal."""
    found = []
    for d in values:
        for r in (r for r in values if r is not d):
            product = _power(float(np.nanmedian(d.values * r.values)))
            unit = next((u for u in GUESSED if product and np.isclose(1e9 / SCALE[u], product, rtol=1e-6)), None)
            if unit is None or product is None or not inside(float(np.nanmedian(d.values)) * SCALE[unit], USUAL_NS):
                continue
            slack = np.abs(d.values) * r.quantum + np.abs(r.values) * d.quantum
            follows = _share(d.values * r.values - product, slack, np.full(d.values.size, product))
            if follows >= FOLLOWS and d.quantum < np.nanmin(d.values):
                why = "another column is its reciprocal"
                found.append(Meaning(d.index, Role.DURATION, unit, proof=2.0, why=why, follows=follows))
    # Both ways round fit (60 × 16.7 = 16.7 × 60): then nothing is proven.
    return found if len({m.column for m in found}) == 1 else []


def elapsed_alone(clock: Column, ticks: bool) -> list[Meaning]:
    """Units in which the steps of elapsed time are frames of a game. ticks : 100 ns may be meant."""
    steps = clock.steps[clock.steps > 0]
    fine = steps.size >= 0.9 * clock.steps.size
    # Row numbers step by one; a thousand frames a second in whole milliseconds are not told from them.
    if not steps.size or not fine or (clock.kind is Kind.NUMBER and clock.quantum == 1.0 and np.median(steps) == 1.0):
        return []
    why = "it never decreases, and its steps are frames"
    units = GUESSED if clock.kind is Kind.NUMBER else _units(clock)
    return [
        Meaning(clock.index, Role.ELAPSED, unit, proof=proof, why=why)
        for unit, proof in _sensible(float(np.median(steps)), units, clock.quantum, ticks)
    ]


def alone(x: Column, ticks: bool) -> list[Meaning]:
    """Readings of one column of positive numbers in which the median frame is one that games have."""
    middle = float(np.nanmedian(x.values))
    why = "as durations its median is a frame that games have"
    found = [
        Meaning(x.index, Role.DURATION, unit, proof=proof, why=why)
        for unit, proof in _sensible(middle, GUESSED, x.quantum, ticks)
        if proof == 1.0 or ticks or not 10 <= middle <= 1000
    ]
    if 10 <= middle <= 1000:
        found.append(Meaning(x.index, Role.RATE, Unit.PER_S, proof=1.0, why="as rates its median is one that games have"))
    return found


def inside(value: float, limits: tuple[float, float]) -> bool:
    """Whether a value lies within limits, both included."""
    return limits[0] <= value <= limits[1]


def _sensible(middle: float, units: Sequence[Unit], quantum: float, ticks: bool) -> list[tuple[Unit, float]]:
    """Units in which the median is a frame, with how much that proves; whole numbers of slow frames may be 100 ns ticks."""
    whole = quantum >= 1.0 and Unit.US in units
    slow = whole and inside(middle * SCALE[Unit.US], (TICKS_NS, POSSIBLE_NS[1]))
    tried = [*units, Unit.HUNDRED_NS] if whole and (slow or ticks) else list(units)
    usual = [(u, 1.0) for u in tried if inside(middle * SCALE[u], USUAL_NS)]
    possible = [(u, 0.5) for u in tried if inside(middle * SCALE[u], POSSIBLE_NS) and (u, 1.0) not in usual]
    return [*usual, *possible] if ticks or slow or not usual else usual


def _lined_up(clock: Column, values: Sequence[Column]) -> Iterator[tuple[Column, Floats, bool]]:
    """Each column beside the steps of a clock: frame i ends, or begins, at the time of its row."""
    for x in values:
        if x.index != clock.index:
            yield x, x.values[1:], False
            yield x, x.values[:-1], True


def _units(clock: Column) -> tuple[Unit, ...]:
    if clock.kind in (Kind.CLOCK, Kind.MOMENT):
        return (Unit.CLOCK,)
    return PROVABLE if clock.quantum >= 1.0 else GUESSED


def _ratio(own: Floats, steps: Floats, quantum: float) -> float | None:
    """Values over steps, where that is a power of ten: frame by frame, or in sum where the clock is too coarse for that."""
    good = (steps > 0) & np.isfinite(own)
    if not good.any():
        return None
    if quantum < 0.02 * float(np.median(steps[good])):
        return _power(float(np.median(own[good] / steps[good])))
    span = float(steps.sum())
    slack = COARSE_SPAN + 2 * quantum / span
    return _power(float(np.nansum(own) / span), slack) if slack <= SAME_SPAN else None


def _power(ratio: float, slack: float = 0.02) -> float | None:
    """The power of ten within `slack` of a ratio, or None."""
    if not ratio > 0 or not np.isfinite(ratio):
        return None
    power = float(10.0 ** round(np.log10(ratio)))
    return power if abs(ratio / power - 1) <= slack else None


def _share(differences: Floats, slack: float | Floats, size: Floats) -> float:
    """Share of rows that differ by no more than their digits allow."""
    return float((np.abs(differences) <= 1.01 * slack + 1e-6 * np.abs(size)).mean())
