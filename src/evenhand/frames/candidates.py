"""Ranked guesses for a log that is not clear: what each reading would mean, and a picture of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem
from evenhand.frames.layout import Found
from evenhand.frames.model import Candidate, Floats, Layout
from evenhand.frames.roles import Column, Meaning, durations_ns
from evenhand.units import duration_words, number
from evenhand.wording import listed, plain

BLOCKS: Final = "▁▂▃▄▅▆▇█"
WIDTH: Final = 40
MOST: Final = 6


class UnclearLog(LogError):
    """The log can be read in several ways; `candidates` ranks them, and each tells the flags that choose it."""

    def __init__(self, problem: Problem, candidates: tuple[Candidate, ...], layout: Layout) -> None:
        super().__init__(problem)
        self.candidates = candidates
        self.layout = layout


def column_name(layout: Layout, index: int) -> str:
    """Name of a column in its header where that names no other column too, else its number from 1."""
    name = layout.header[index] if layout.header else ""
    return name if name and layout.header and layout.header.count(name) == 1 else str(index + 1)


def candidate(meaning: Meaning, columns: dict[int, Column], layout: Layout, rows: int) -> Candidate:
    """What a reading of the sample would mean for the whole log of `rows` rows."""
    ms = durations_ns(meaning, columns) / 1e6
    mean = float(np.nanmean(ms))
    return Candidate(
        column=column_name(layout, meaning.column),
        role=meaning.role,
        unit=meaning.unit,
        score=meaning.proof,
        why=meaning.why,
        first_ms=tuple(round(float(v), 3) for v in ms[:4]),
        average_rate=1000.0 / mean if mean > 0 else float("nan"),
        seconds=mean * rows / 1000.0,
        trace=trace(ms),
    )


def trace(ms: Floats) -> str:
    """The pace over the sample in block characters, high = fast."""
    parts = np.array_split(ms[np.isfinite(ms) & (ms > 0)], min(WIDTH, max(ms.size, 1)))
    rates = np.array([1000.0 / part.mean() for part in parts if part.size])
    if not rates.size or rates.max() == rates.min():
        return BLOCKS[3] * rates.size
    levels = (rates - rates.min()) / (rates.max() - rates.min()) * (len(BLOCKS) - 1)
    return "".join(BLOCKS[round(level)] for level in levels)


def unclear(
    found: Found, ranked: Sequence[Meaning], columns: dict[int, Column], rows: int, name: str, filters: dict[str, tuple[str, ...]]
) -> UnclearLog:
    """The error that says what the log could be and which flags settle it. filters : text column -> its values."""
    shown = tuple(candidate(m, columns, found.layout, rows) for m in ranked[:MOST])
    said = [
        f"{c.flags()}   {number(c.average_rate, 1)} frames a second, {duration_words(c.seconds)}; first {_first(c)} ms; "
        f"{c.why}\n       {c.trace}"
        for c in shown
    ]
    asked = [
        f"--where {plain(column)}={plain(value)}   rows of one program only"
        for column, values in filters.items()
        for value in values
    ]
    what = (
        "its numbers can be read in several ways"
        if len(shown) > 1
        else "it seems to hold frames of several programs"
        if asked and shown
        else "no column can be told to be the frames"
    )
    way_out = "choose one; it is remembered for logs of this layout:\n     " + "\n     ".join([*said, *asked])
    if not said and not asked:
        columns_there = listed([plain(column_name(found.layout, i)) for i in range(found.layout.columns)][:12])
        way_out = f"say what to read with --column, --role and --unit; its columns are {columns_there}"
    return UnclearLog(Problem("log-unclear", what, name, way_out), shown, found.layout)


def _first(c: Candidate) -> str:
    return ", ".join(number(v, 3 if v < 1 else 2) for v in c.first_ms)
