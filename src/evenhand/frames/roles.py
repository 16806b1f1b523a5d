"""What the columns of a log are, from their numbers alone.

A counter steps by one exact amount. Elapsed time never decreases. Beside elapsed time, the column whose values keep one ratio to
its steps is the duration, and the one whose product with them is constant is the rate; the unit follows from that constant. A
column alone is read in those ways in which its median frame is one that games have. Names of columns play no part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.cells import Kind
from evenhand.frames.model import Floats, Role, Unit

#: Nanoseconds in a unit. A clock time is parsed to nanoseconds.
SCALE: Final = {Unit.S: 1e9, Unit.MS: 1e6, Unit.US: 1e3, Unit.NS: 1.0, Unit.HUNDRED_NS: 100.0, Unit.CLOCK: 1.0}
GUESSED: Final = (Unit.S, Unit.MS, Unit.US, Unit.NS)

USUAL_NS: Final = (1e6, 100e6)  # the median frame of a game: 10 to 1000 a second (common practice, no source)
POSSIBLE_NS: Final = (0.2e6, 500e6)  # beyond this nothing is taken for a frame without evidence of a second column
FOLLOWS: Final = 0.98  # share of rows that must keep the ratio
SAME_SPAN: Final = 0.02  # intervals of one run add up to its length
STEADY: Final = 0.1  # variation of the steps of a polling recorder
POLL_S: Final = (0.05, 60.0)  # its period
PER_POLL: Final = 3.0  # frames in it, at least


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
    proof: float = 0.0  # 2 = agrees with another column, 1 = the only sensible reading of one column
    why: str = ""


@dataclass(frozen=True, slots=True)
class Meanings:
    """All readings, likeliest first; `clear` when the first is beyond doubt. counters : columns that count rows."""

    found: tuple[Meaning, ...]
    clear: bool
    sampled: bool
    counters: tuple[int, ...]


def meanings(columns: Sequence[Column], rows_in_all: int, mixed: bool = False, seconds: float | None = None) -> Meanings:
    """Every reading of these numeric columns.

    rows_in_all : rows of the whole log, of which the columns are a sample. mixed : a text column names several programs.
    seconds : expected length of the scene, where known: readings that miss it by more than a quarter are left out.
    """
    counters = tuple(c.index for c in columns if is_counter(c.values))
    rising = [c for c in columns if c.index not in counters and is_elapsed(c)]
    positive = [
        c for c in columns if c.index not in counters and c not in rising and c.kind is Kind.NUMBER and is_positive(c.values)
    ]
    polled = _polled(rising, positive, [c for c in columns if c.index in counters], rows_in_all)
    if polled:
        return Meanings(polled, len(polled) == 1, True, counters)
    proven = [m for e in rising for m in (*_durations_of(e, positive), *_rates_of(e, positive))] or _reciprocal(positive)
    found = proven or [m for e in rising for m in _elapsed_alone(e)] or [m for c in positive for m in _alone(c)]
    by_index = {c.index: c for c in columns}
    if seconds is not None and len(found) > 1:
        sizes = [_mean_ns(m, by_index) * rows_in_all / 1e9 for m in found]
        found = [m for m, size in zip(found, sizes, strict=True) if abs(size / seconds - 1) <= 0.25] or found
    families = _families(found, by_index)
    rivals = _rivals(families[0][0], positive, by_index) if len(families) == 1 and proven else []
    ranked = [m for family in families for m in family[:1]] + rivals
    needs_filter = mixed and not proven
    return Meanings(tuple(ranked), len(ranked) == 1 and not needs_filter, False, counters)


def is_counter(values: Floats) -> bool:
    """Whether the column steps by one exact whole amount."""
    if values.size < 3:
        return False
    steps = np.diff(values)
    return bool(steps[0] != 0 and (steps == steps[0]).all() and float(steps[0]).is_integer())


def is_elapsed(column: Column) -> bool:
    """Whether the column is a time that goes on: never falls, nearly always grows."""
    steps = column.steps
    if column.kind in (Kind.CLOCK, Kind.MOMENT):
        return bool(steps.size and (steps >= 0).mean() >= FOLLOWS)
    return bool(steps.size >= 2 and (steps >= 0).all() and (steps > 0).mean() >= 0.9 and steps.std() > 0)


def is_positive(values: Floats) -> bool:
    """Whether (nearly) all values are finite and above nought, and not all the same."""
    return bool((np.isfinite(values) & (values > 0)).mean() >= FOLLOWS and np.nanmax(values) > np.nanmin(values))


def durations_ns(meaning: Meaning, columns: dict[int, Column]) -> Floats:
    """Frame durations of the sample under a reading, nanoseconds, shape (n,) or (n - 1,)."""
    values = columns[meaning.column].values
    if meaning.role is Role.RATE:
        return 1e9 / values
    scale = SCALE[meaning.unit]
    return np.diff(values) * scale if meaning.role is Role.ELAPSED else values * scale


def _mean_ns(meaning: Meaning, columns: dict[int, Column]) -> float:
    return float(np.nanmean(durations_ns(meaning, columns)))


def _units(e: Column) -> tuple[Unit, ...]:
    return (Unit.CLOCK,) if e.kind in (Kind.CLOCK, Kind.MOMENT) else GUESSED


def _durations_of(e: Column, positive: Sequence[Column]) -> list[Meaning]:
    """Columns that keep one ratio to the steps of elapsed time."""
    found = []
    steps = e.steps
    for x in positive:
        for from_start, values in ((False, x.values[1:]), (True, x.values[:-1])):
            ratio = _power(_middle(values, steps))
            if ratio is None or not _near(values, steps * ratio, e.quantum * ratio + x.quantum):
                continue
            middle = float(np.median(x.values))
            pairs = [(u, v) for u in _units(e) for v in GUESSED if np.isclose(SCALE[u] / SCALE[v], ratio, rtol=1e-6)]
            fit = [(u, v) for u, v in pairs if _in(middle * SCALE[v], USUAL_NS)]
            fit = fit or [(u, v) for u, v in pairs if _in(middle * SCALE[v], POSSIBLE_NS)]
            found += [
                Meaning(x.index, Role.DURATION, v, e.index, u, from_start, 2.0, "its values are the steps of the elapsed time")
                for u, v in fit
            ]
            break
    return found


def _rates_of(e: Column, positive: Sequence[Column]) -> list[Meaning]:
    """Columns whose product with the steps of elapsed time is constant: that constant tells the unit of elapsed time."""
    found = []
    steps = e.steps
    for x in positive:
        for from_start, values in ((False, x.values[1:]), (True, x.values[:-1])):
            good = steps > 0
            product = _power(float(np.median(values[good] * steps[good]))) if good.any() else None
            if product is None:
                continue
            expected = product / values
            slack = e.quantum + expected * x.quantum / values
            unit = next((u for u in _units(e) if np.isclose(1e9 / SCALE[u], product, rtol=1e-6)), None)
            if unit is None or (np.abs(steps - expected) <= 1.01 * slack + 1e-6 * expected).mean() < FOLLOWS:
                continue
            why = "its reciprocal is the steps of the elapsed time"
            found.append(Meaning(x.index, Role.RATE, Unit.PER_S, e.index, unit, from_start, 2.0, why))
            break
    return found


def _reciprocal(positive: Sequence[Column]) -> list[Meaning]:
    """A duration and a rate that are each other's reciprocal."""
    found = []
    for d in positive:
        for r in positive:
            if d is r:
                continue
            product = _power(float(np.median(d.values * r.values)))
            unit = next((u for u in GUESSED if product and np.isclose(1e9 / SCALE[u], product, rtol=1e-6)), None)
            if unit is None or product is None or not _in(float(np.median(d.values)) * SCALE[unit], USUAL_NS):
                continue
            slack = d.values * r.quantum + r.values * d.quantum
            if (
                np.abs(d.values * r.values - product) <= 1.01 * slack + 1e-6 * product
            ).mean() >= FOLLOWS and d.quantum < d.values.min():
                why = "another column is its reciprocal"
                found.append(Meaning(d.index, Role.DURATION, unit, proof=2.0, why=why))
    # Both ways round fit (60 × 16.7 = 16.7 × 60): then nothing is proven.
    return found if len({m.column for m in found}) == 1 else []


def _elapsed_alone(e: Column) -> list[Meaning]:
    """Units in which the steps of elapsed time are frames of a game."""
    steps = e.steps[e.steps > 0]
    if not steps.size:
        return []
    middle = float(np.median(steps))
    why = "it never decreases, and its steps are frames"
    for limits in (USUAL_NS, POSSIBLE_NS):
        units = [u for u in _units(e) if _in(middle * SCALE[u], limits)]
        if units:
            return [Meaning(e.index, Role.ELAPSED, u, proof=1.0, why=why) for u in units]
    return []


def _alone(x: Column) -> list[Meaning]:
    """Readings of one column of positive numbers in which the median frame is one that games have."""
    middle = float(np.nanmedian(x.values))
    found = [
        Meaning(x.index, Role.DURATION, u, proof=1.0, why="as durations its median is a frame that games have")
        for u in GUESSED
        if _in(middle * SCALE[u], USUAL_NS)
    ]
    if 10 <= middle <= 1000:
        found.append(Meaning(x.index, Role.RATE, Unit.PER_S, proof=1.0, why="as rates its median is one that games have"))
    return found


def _polled(rising: Sequence[Column], positive: Sequence[Column], counters: Sequence[Column], rows: int) -> tuple[Meaning, ...]:
    """Readings of a log with one row a polling period: steady steps, in each of which a rate column counts several frames."""
    found = []
    for x in positive:
        middle = float(np.median(x.values))
        if not 5 <= middle <= 2000:
            continue
        for e in rising:
            steps = e.steps
            period = float(np.median(steps))
            for unit in _units(e):
                seconds = period * SCALE[unit] / 1e9
                product = np.median(x.values[1:] * steps) * SCALE[unit] / 1e9
                steady = float(np.median(np.abs(steps - period))) <= STEADY * period
                if _in(seconds, POLL_S) and product >= PER_POLL and steady and not _durations_of(e, positive):
                    frames_too = not _rates_of(e, positive) and not any(
                        _in(period * SCALE[u], USUAL_NS) for u in _units(e) if u is not unit
                    )
                    if frames_too or seconds >= 0.5:
                        found.append(Meaning(x.index, Role.RATE, Unit.PER_S, e.index, unit, why="one row a polling period"))
        if not rising and any(_short_as_frames(c, middle, rows) for c in counters):
            found.append(Meaning(x.index, Role.RATE, Unit.PER_S, counters[0].index, Unit.S, why="one row a second"))
    return tuple(found[:1]) if found and len({m.elapsed_unit for m in found}) == 1 else ()


def _short_as_frames(counter: Column, rate: float, rows: int) -> bool:
    """A counted column of rates that would last under three seconds as frames, and 10 s to 15 min as one row a second."""
    return rows / rate < 3.0 and 10 <= rows * float(counter.steps[0]) <= 900


def _families(found: Sequence[Meaning], columns: dict[int, Column]) -> list[list[Meaning]]:
    """Readings that give the same frames, together; the best proven first."""
    families: list[list[Meaning]] = []
    for meaning in sorted(found, key=lambda m: -m.proof):
        own = durations_ns(meaning, columns)
        for family in families:
            other = durations_ns(family[0], columns)
            size = min(own.size, other.size)
            alike = np.isclose(own[-size:], other[-size:], rtol=0.05, atol=2e6).mean() >= 0.95
            if alike and abs(float(own[-size:].sum() / other[-size:].sum()) - 1) < 1e-3:
                family.append(meaning)
                break
        else:
            families.append([meaning])
    return [sorted(family, key=lambda m: _coarseness(m, columns)) for family in families] or [[]]


def _coarseness(meaning: Meaning, columns: dict[int, Column]) -> float:
    """Nanoseconds that the last digit stands for, at the median frame."""
    quantum = columns[meaning.column].quantum
    if meaning.role is Role.RATE:
        rate = float(np.median(columns[meaning.column].values))
        return 1e9 * quantum / rate**2
    return quantum * SCALE[meaning.unit]


def _rivals(chosen: Meaning, positive: Sequence[Column], columns: dict[int, Column]) -> list[Meaning]:
    """Other columns that could as well be intervals of the same run: they add up to the same length, with other numbers."""
    own = durations_ns(chosen, columns)
    span = float(np.nansum(own))
    rivals = []
    for x in positive:
        if x.index == chosen.column:
            continue
        for unit in GUESSED:
            other = x.values[-own.size :] * SCALE[unit]
            middle = float(np.median(other))
            if not _in(middle, POSSIBLE_NS) or abs(float(np.nansum(other)) / span - 1) > SAME_SPAN:
                continue
            alike = np.isclose(other, own[-other.size :], rtol=0.01, atol=x.quantum * SCALE[unit]).mean()
            if alike < 0.95:
                why = "it adds up to the same time as the column above, frame by frame it differs"
                rivals.append(Meaning(x.index, Role.DURATION, unit, chosen.elapsed, chosen.elapsed_unit, proof=1.0, why=why))
    return rivals


def _middle(values: Floats, steps: Floats) -> float | None:
    good = (steps > 0) & np.isfinite(values)
    return float(np.median(values[good] / steps[good])) if good.any() else None


def _power(ratio: float | None) -> float | None:
    """The power of ten within 2 % of a ratio, or None."""
    if ratio is None or not ratio > 0 or not np.isfinite(ratio):
        return None
    power = float(10.0 ** round(np.log10(ratio)))
    return power if abs(ratio / power - 1) <= 0.02 else None


def _near(values: Floats, expected: Floats, slack: float) -> bool:
    return bool((np.abs(values - expected) <= 1.01 * slack + 1e-6 * np.abs(expected)).mean() >= FOLLOWS)


def _in(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] <= value <= limits[1]
