"""Whole columns to durations in nanoseconds, and the rows among them that cannot be frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenhand.frames.columns import Columns
from evenhand.frames.evidence import SCALE, Meaning
from evenhand.frames.model import BadRow, Floats, Nanoseconds, Role, Unit

ABSURD_NS: Final = 60 * 10**9  # no frame lasts a minute
MOST_FRAMES: Final = 50_000_000  # in a sampled log; beyond that the column counts no frames
GAP_NS: Final = 100 * 10**6  # time that elapsed and a column of durations may lose


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
        steps = np.diff(_stamps(columns.values[meaning.elapsed], SCALE[meaning.elapsed_unit]))
        finer = SCALE[meaning.elapsed_unit] * quanta[meaning.elapsed] < own_quantum
        rows = slice(0, -1) if meaning.from_start else slice(1, None)
        backwards = np.zeros(own.size, dtype=bool)
        backwards[1:] = steps < 0
        gap = np.zeros(own.size, dtype=bool)
        gap[rows] = steps > own[rows] + np.maximum(GAP_NS, own[rows])
        own[rows] = np.where(finer[rows] & (steps > 0), steps, own[rows])
        reasons |= {"time goes backwards": backwards, "time jumps by more than this frame": gap}
    return _sorted_out(own, reasons, columns, meaning.column)


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
    stamps = _stamps(columns.values[meaning.column], SCALE[meaning.unit])
    latest = np.maximum.accumulate(stamps)
    good = np.concatenate(([True], stamps[1:] > latest[:-1]))
    bad = list(columns.bad)
    for row in np.flatnonzero(~good):
        why = "time goes backwards" if stamps[row] < latest[row - 1] else "the same time as the row before"
        bad.append(BadRow(columns.line(int(row)), meaning.column + 1, str(columns.values[meaning.column][row]), why))
    lines = np.flatnonzero(good)
    ns = np.diff(stamps[good])
    for frame in np.flatnonzero(ns > ABSURD_NS):
        text = str(columns.values[meaning.column][lines[frame + 1]])
        bad.append(BadRow(columns.line(int(lines[frame + 1])), meaning.column + 1, text, "a gap of more than a minute"))
    return Durations(ns[ns <= ABSURD_NS], tuple(sorted(bad, key=lambda b: b.line)))


def _reasons(ns: Nanoseconds) -> dict[str, NDArray[np.bool_]]:
    return {
        "no number": ns == _NO_NUMBER,
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


def _stamps(values: NDArray[np.int64] | Floats, scale: float) -> Nanoseconds:
    """Whole nanoseconds. Whole numbers are multiplied as such, so that a clock counted from 1970 loses nothing."""
    if values.dtype == np.int64:
        return np.asarray(values, dtype=np.int64) * np.int64(scale)
    return _whole(np.asarray(values, dtype=np.float64) * scale)


def _whole(values: Floats) -> Nanoseconds:
    inside = np.isfinite(values) & (np.abs(values) < 2.0**62)
    return np.where(inside, np.rint(np.where(inside, values, 0.0)), np.float64(_NO_NUMBER)).astype(np.int64)


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
