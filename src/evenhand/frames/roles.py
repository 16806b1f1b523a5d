"""What the columns of a log are, from their numbers alone; names of columns play no part.

In order: a log with one row a polling period (`sampled`); columns that prove each other (`evidence`): the steps of elapsed time
are durations, or reciprocals of rates; else a column alone, read in those ways in which its median frame is one that games have.
Columns that step by one exact amount, or never change, are counters and settings, unless nothing else can be the frames.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenhand.frames.cells import Kind
from evenhand.frames.evidence import (
    GUESSED,
    POSSIBLE_NS,
    SAME_SPAN,
    Column,
    Meaning,
    alone,
    durations_ns,
    durations_of,
    elapsed_alone,
    inside,
    rates_of,
    reciprocal,
)
from evenhand.frames.model import Role
from evenhand.frames.sampled import polled

MOST_FEW: Final = 8  # rows; so few may rise by chance
SHORT_ROWS: Final = 1800  # half an hour of seconds: rates in fewer rows may be one a second
LONGEST_NS: Final = 12 * 3600e9
HINT: Final = 0.25  # how far the log may be from the scene's expected length
FOLLOWS_ALL: Final = 0.999
FALLS: Final = 0.02  # share of the steps of a time that bad rows may turn back
ENOUGH: Final = 20  # steps; in so many one may be turned back


@dataclass(frozen=True, slots=True)
class Meanings:
    """All readings, likeliest first; `clear` when the first is beyond doubt. why_not : what stands against the first."""

    found: tuple[Meaning, ...]
    clear: bool
    sampled: bool
    why_not: str = ""
    strength: tuple[bool, bool, bool] = (False, False, False)  # lasts as long as the scene, proven, rows are counted


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Columns by behaviour. rising : never fall. positive : vary above zero. regular : step exactly. steady : never change."""

    rising: tuple[Column, ...]
    positive: tuple[Column, ...]
    regular: tuple[Column, ...]
    steady: tuple[Column, ...]


def meanings(columns: Sequence[Column], rows_in_all: int, mixed: bool = False, seconds: float | None = None) -> Meanings:
    """Every reading of these numeric columns.

    rows_in_all : rows of the whole log, of which the columns are a sample. mixed : a text column names several programs.
    seconds : expected length of the scene, where known: readings that miss it by more than a quarter are left out.
    """
    by_index = {c.index: c for c in columns}
    kinds = _sort(columns)
    clocks = (*kinds.rising, *kinds.regular)
    averages = polled(clocks, kinds.positive, rows_in_all)
    if averages:
        return Meanings(averages, len(averages) == 1, True, strength=(False, True, False))
    proven = _proven(kinds.rising, kinds.positive) or _proven(clocks, (*kinds.positive, *kinds.steady))
    found = proven or _unproven(kinds, ticks=False)
    in_time = _in_time(found, by_index, rows_in_all, seconds)
    if seconds is not None and not (proven or in_time):
        in_time = _in_time(_unproven(kinds, ticks=True), by_index, rows_in_all, seconds)
    families = _families(in_time or found, by_index)
    ranked = [family[0] for family in families]
    if proven and len(families) == 1:
        ranked += _rivals(ranked[0], kinds.positive, by_index)
    why_not = _doubt(ranked, by_index, rows_in_all, bool(proven), mixed, bool(in_time))
    strength = (bool(in_time), bool(proven), bool(kinds.regular))
    return Meanings(tuple(ranked), len(ranked) == 1 and not why_not, False, why_not, strength)


def _sort(columns: Sequence[Column]) -> _Sorted:
    regular = tuple(c for c in columns if is_regular(c))
    rest = [c for c in columns if c not in regular]
    rising = tuple(c for c in rest if is_rising(c))
    numbers = [c for c in rest if c.kind is Kind.NUMBER and (c not in rising or c.values.size < MOST_FEW)]
    positive = tuple(c for c in numbers if is_positive(c) and not is_constant(c))
    steady = tuple(c for c in numbers if is_positive(c) and is_constant(c))
    return _Sorted(rising, positive, regular, steady)


def is_regular(column: Column) -> bool:
    """Whether nearly all steps are one exact whole amount: a counter, which may begin anew, or time in a perfect pace."""
    steps = column.steps
    if column.kind is not Kind.NUMBER or steps.size < 2 or not np.isfinite(steps).all():
        return False
    usual = float(np.median(steps))
    return usual != 0 and usual.is_integer() and bool((steps == usual).mean() >= 0.9)


def is_rising(column: Column) -> bool:
    """Whether the column is a time that goes on: it grows, and falls hardly ever, as it does only where a row is bad."""
    steps = column.steps[np.isfinite(column.steps)]
    if steps.size < 2:
        return False
    allowed = max(FALLS * steps.size, 1.0 if steps.size >= ENOUGH else 0.0)
    return bool(steps.sum() > 0 and np.count_nonzero(steps < 0) <= allowed)


def is_constant(column: Column) -> bool:
    """Whether the column never changes."""
    return bool(np.nanmax(column.values) == np.nanmin(column.values))


def is_positive(column: Column) -> bool:
    """Whether nearly all values are finite and above zero."""
    return bool((np.isfinite(column.values) & (column.values > 0)).mean() >= 0.9)


def _proven(clocks: Sequence[Column], values: Sequence[Column]) -> list[Meaning]:
    """Readings that another column confirms."""
    return [m for e in clocks for m in (*durations_of(e, values), *rates_of(e, values))] or reciprocal(values)


def _unproven(kinds: _Sorted, ticks: bool) -> list[Meaning]:
    """Readings of single columns. Columns that change count before those that never do, which may be mere settings."""
    found = [m for e in kinds.rising for m in elapsed_alone(e, ticks)]
    few = bool(kinds.positive) and kinds.positive[0].values.size < MOST_FEW
    if not found or few:
        found += [m for c in kinds.positive for m in alone(c, ticks)]
    held = all(np.count_nonzero(c.steps) < 0.5 * c.steps.size for c in kinds.positive)
    if not found or (held and not kinds.rising):
        found += [m for e in kinds.regular for m in elapsed_alone(e, ticks)]
        found += [m for c in kinds.steady for m in alone(c, ticks)]
    return found


def _in_time(found: Sequence[Meaning], columns: dict[int, Column], rows: int, seconds: float | None) -> list[Meaning]:
    """Readings that last about as long as the scene should; none where that is not known."""
    if seconds is None:
        return []
    return [m for m in found if abs(float(np.nanmean(durations_ns(m, columns))) * rows / 1e9 / seconds - 1) <= HINT]


def _doubt(ranked: Sequence[Meaning], columns: dict[int, Column], rows: int, proven: bool, mixed: bool, in_time: bool) -> str:
    """What stands against the only reading, in words; empty where nothing does."""
    if len(ranked) != 1:
        return ""
    only = ranked[0]
    if mixed and not (proven and only.follows >= FOLLOWS_ALL):
        return "it seems to hold frames of several programs"
    if proven or in_time:
        return ""
    if only.proof < 1.0:
        return "its numbers are unlike the frames of a game, however they are read"
    if only.role is Role.RATE and rows <= SHORT_ROWS:
        return "its rates may be those of frames or, one row a second, those of seconds, which are no frames"
    if only.column in columns and rows * float(np.nanmean(durations_ns(only, columns))) > LONGEST_NS:
        return "read so, it lasts more than twelve hours"
    return ""


def _families(found: Sequence[Meaning], columns: dict[int, Column]) -> list[list[Meaning]]:
    """Readings that give the same frames, together; the best proven first, in each the finest first."""
    families: list[list[Meaning]] = []
    for meaning in sorted(found, key=lambda m: -m.proof):
        own = durations_ns(meaning, columns)
        for family in families:
            other = durations_ns(family[0], columns)
            size = min(own.size, other.size)
            alike = np.isclose(own[-size:], other[-size:], rtol=0.05, atol=2e6).mean() >= 0.95
            if alike and abs(float(np.nansum(own[-size:]) / np.nansum(other[-size:])) - 1) < 1e-3:
                family.append(meaning)
                break
        else:
            families.append([meaning])
    return [sorted(family, key=lambda m: _coarseness(m, columns)) for family in families]


def _coarseness(meaning: Meaning, columns: dict[int, Column]) -> float:
    """Nanoseconds that the last digit stands for, at the median frame."""
    column = columns[meaning.column]
    if meaning.role is Role.RATE:
        return 1e9 * column.quantum / float(np.nanmedian(column.values)) ** 2
    return column.quantum * meaning.scale


def _rivals(chosen: Meaning, positive: Sequence[Column], columns: dict[int, Column]) -> list[Meaning]:
    """Other columns that could as well be intervals of the same run: they add up to the same length, with other numbers."""
    own = durations_ns(chosen, columns)
    span = float(np.nansum(own))
    rivals = []
    for x in (x for x in positive if x.index != chosen.column):
        for unit in GUESSED:
            rival = Meaning(x.index, Role.DURATION, unit, proof=1.0)
            other = durations_ns(rival, columns)[-own.size :]
            same_span = abs(float(np.nansum(other)) / span - 1) <= SAME_SPAN
            if not same_span or not inside(float(np.nanmedian(other)), POSSIBLE_NS):
                continue
            if np.isclose(other, own, rtol=0.01, atol=x.quantum * rival.scale).mean() < 0.95:
                why = "it adds up to the same time as the column above, frame by frame it differs"
                rivals.append(replace(rival, why=why))
    return rivals
