"""Whole columns to durations in nanoseconds, and the rows among them that cannot be frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenhand.frames.columns import Columns
from evenhand.frames.evidence import SCALE, Meaning
from evenhand.frames.model import BadRow, Floats, Nanoseconds, Role, Unit

BEYOND_NS: Final = 2.0**62
ABSURD_NS: Final = 60 * 10**9  # no frame lasts a minute
MOST_FRAMES: Final = 50_000_000  # in a sampled log; beyond that the column counts no frames
APART_NS: Final = 2 * 10**5  # by which the steps of elapsed time may miss a duration beside it, besides half of it
NO_NUMBER: Final = "no number"
APART: Final = ("time goes backwards", "rows are missing above it", "it lasts longer than the time since the row above")


@dataclass(frozen=True, slots=True, eq=False)
class Durations:
    """ns : durations of the good rows, shape (n,). bad : the others, with their place."""

    ns: Nanoseconds
    bad: tuple[BadRow, ...]


def durations(meaning: Meaning, columns: Columns, quanta: dict[int, float]) -> Durations:
    """Frames of a whole log under a reading.

    The column with the finest quantum gives each frame: beside a rate with three decimals, the steps of an elapsed time in
    microseconds are finer for slow frames and coarser for fast ones. quanta : column -> smallest step its digits can show.
    """
    if meaning.role is Role.ELAPSED:
        return _elapsed(meaning, columns)
    own, own_quantum = _own(meaning, columns, quanta)
    reasons = _reasons(own)
    if meaning.elapsed is not None and meaning.elapsed_unit is not None:
        steps = np.diff(_stamps(_from_first(columns.values[meaning.elapsed]), SCALE[meaning.elapsed_unit]))
        digit = SCALE[meaning.elapsed_unit] * quanta[meaning.elapsed]
        rows = slice(0, -1) if meaning.from_start else slice(1, None)
        later = np.zeros((3, own.size), dtype=bool)
        later[:, 1:] = _beside(steps, own[rows], digit, _unbroken(columns))
        finer = digit < own_quantum[rows]
        if finer.any():
            own[rows] = np.where(finer & (steps > 0) & ~later[1:, 1:].any(axis=0), steps, own[rows])
        reasons |= dict(zip(APART, later, strict=True))
    made = _sorted_out(own, reasons, columns, meaning.column)
    return made if meaning.from_start else _without_first(made, own, columns)


def _beside(steps: Nanoseconds, own: Nanoseconds, digit: float, unbroken: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows at which elapsed time falls, moves on by more than their frame lasted, or by less; shape (3, n - 1).

    digit : nanoseconds that the last digit of elapsed time stands for. unbroken : nothing was left out before the row.
    """
    least = APART_NS + int(own.min(initial=0)) / 2 + 2 * digit
    if steps.min(initial=0) >= 0 and np.abs(steps - own).max(initial=0) <= least:
        return np.zeros((3, own.size), dtype=bool)  # the usual case, in a third of the time
    apart = APART_NS + own / 2 + 2 * digit
    return np.stack((steps < 0, unbroken & (steps > own + apart), (steps >= 0) & (steps + apart < own)))


def _unbroken(columns: Columns) -> NDArray[np.bool_]:
    """Whether no bad row lies between a row and the one before it, shape (n - 1,)."""
    if columns.lines is None or not columns.bad:
        return np.ones(max(columns.rows - 1, 0), dtype=bool)
    before = np.searchsorted(np.array(sorted(b.line for b in columns.bad)), columns.lines)
    return np.asarray(before[1:] == before[:-1])


def _without_first(made: Durations, own: Nanoseconds, columns: Columns) -> Durations:
    """A first row with zero or nothing for its duration is the first present, which ends no frame: it is not bad."""
    first = made.bad[0] if made.bad else None
    if first is None or not made.ns.size:
        return made
    nothing = first.why == NO_NUMBER and first.line < columns.line(0)
    zero = first.line == columns.line(0) and own[0] in (0, _NO_NUMBER) and columns.rows > 1
    return Durations(made.ns, made.bad[1:]) if nothing or zero else made


def _own(meaning: Meaning, columns: Columns, quanta: dict[int, float]) -> tuple[Nanoseconds, Floats]:
    """(durations from the column itself, nanoseconds its last digit stands for at each row)."""
    values = columns.values[meaning.column]
    quantum = quanta[meaning.column]
    if meaning.role is Role.RATE:
        with np.errstate(divide="ignore", invalid="ignore"):
            exact = 1e9 / values
            return _whole(exact), np.nan_to_num(exact * quantum / values, nan=np.inf, posinf=np.inf)
    scale = SCALE[meaning.unit]
    return _stamps(values, scale), np.full(values.size, quantum * scale)


def _elapsed(meaning: Meaning, columns: Columns) -> Durations:
    stamps = _stamps(_from_first(columns.values[meaning.column]), SCALE[meaning.unit])
    latest = np.maximum.accumulate(stamps)
    good = np.concatenate(([True], stamps[1:] > latest[:-1]))
    bad = list(columns.bad)
    for row in np.flatnonzero(~good):
        why = "time goes backwards" if stamps[row] < latest[row - 1] else "the same time as in the row above"
        bad.append(BadRow(columns.line(int(row)), meaning.column + 1, str(columns.values[meaning.column][row]), why))
    rows = np.flatnonzero(good)
    ns = np.diff(stamps[good])
    for frame in np.flatnonzero(ns > ABSURD_NS):
        text = str(columns.values[meaning.column][rows[frame + 1]])
        bad.append(BadRow(columns.line(int(rows[frame + 1])), meaning.column + 1, text, "more than a minute after the row above"))
    # The time from the row before a bad one to the row after it is that of two frames or more: it is left out with it.
    whole = _unbroken(columns)[rows[1:] - 1] & (np.diff(rows) == 1)
    return Durations(ns[(ns <= ABSURD_NS) & whole], tuple(sorted(bad, key=lambda b: b.line)))


def _reasons(ns: Nanoseconds) -> dict[str, NDArray[np.bool_]]:
    if ns.min(initial=1) > 0 and ns.max(initial=1) <= ABSURD_NS:
        return {}
    return {
        NO_NUMBER: ns == _NO_NUMBER,
        "no time at all, or negative": (ns <= 0) & (ns != _NO_NUMBER),
        "a frame of more than a minute": ns > ABSURD_NS,
    }


def _sorted_out(ns: Nanoseconds, reasons: dict[str, NDArray[np.bool_]], columns: Columns, column: int) -> Durations:
    bad = list(columns.bad)
    good = np.ones(ns.size, dtype=bool)
    for why, marked in reasons.items():
        for row in np.flatnonzero(marked & good):
            bad.append(BadRow(columns.line(int(row)), column + 1, str(columns.values[column][row]), why))
        good &= ~marked
    return Durations(ns[good], tuple(sorted(bad, key=lambda b: b.line)))


_NO_NUMBER: Final = np.iinfo(np.int64).min


def _from_first(values: NDArray[np.int64] | Floats) -> NDArray[np.int64] | Floats:
    """Time since the first row; whole numbers counted from 1970 would not fit in another unit."""
    return values - values[0] if values.size and values.dtype == np.int64 else values


def _stamps(values: NDArray[np.int64] | Floats, scale: float) -> Nanoseconds:
    """Whole nanoseconds. Whole numbers are multiplied as such, so that a clock counted from 1970 loses nothing."""
    if values.dtype == np.int64:
        whole = np.asarray(values, dtype=np.int64)
        most = np.int64(BEYOND_NS / scale)
        if whole.min(initial=0) > -most and whole.max(initial=0) < most:
            return whole * np.int64(scale)
        return np.where(np.abs(whole) < most, whole, 0) * np.int64(scale) + np.where(np.abs(whole) < most, 0, _NO_NUMBER)
    return _whole(np.asarray(values, dtype=np.float64) * scale)


def _whole(values: Floats) -> Nanoseconds:
    """Rounded; what is no number, or too large to be one of nanoseconds, is marked."""
    rounded = np.rint(values)
    if np.abs(rounded).max(initial=0.0) < BEYOND_NS:  # false for NaN
        return rounded.astype(np.int64)
    inside = np.abs(rounded) < BEYOND_NS
    return np.where(inside, np.where(inside, rounded, 0.0), np.float64(_NO_NUMBER)).astype(np.int64)


def averaged(meaning: Meaning, columns: Columns) -> Durations:
    """Frames of equal length that add up to what the polling periods counted: right for the average and for nothing else."""
    values = np.asarray(columns.values[meaning.column], dtype=np.float64)
    stamps = columns.values[meaning.elapsed] if meaning.elapsed is not None else np.arange(values.size)
    seconds = np.diff(stamps) * SCALE[meaning.elapsed_unit or Unit.S] / 1e9
    good = np.isfinite(values[1:]) & (values[1:] > 0) & (seconds > 0) & (seconds < ABSURD_NS / 1e9)
    own, spans = values[1:][good], seconds[good]
    counts = own * spans if meaning.role is Role.RATE else spans * 1e9 / (own * meaning.scale)
    count = max(round(float(counts.sum())), 1)
    if not good.any() or count > MOST_FRAMES:
        return Durations(np.empty(0, dtype=np.int64), columns.bad)
    edges = np.rint(np.linspace(0.0, float(spans.sum()) * 1e9, count + 1)).astype(np.int64)
    return Durations(np.diff(edges), columns.bad)
