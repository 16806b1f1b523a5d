"""Ranked guesses for a log that is not clear: what each reading would mean, and a picture of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem
from evenhand.frames.evidence import SCALE, Column, Meaning, durations_ns
from evenhand.frames.layout import Found
from evenhand.frames.model import Candidate, Floats, Layout, Role, Unit, quoted
from evenhand.frames.roles import Meanings
from evenhand.units import duration_words, number
from evenhand.wording import counted, listed, plain

BLOCKS: Final = "▁▂▃▄▅▆▇█"
WIDTH: Final = 40
MOST: Final = 6  # shown; `candidates` has all
COLUMNS: Final = 12
INDENT: Final = "\n     "


class UnclearLog(LogError):
    """The log can be read in several ways; `candidates` ranks them, and each tells the flags that choose it.

    filters : text column -> its values, where the log may hold several programs. strength : of the evidence for the layout.
    """

    def __init__(
        self,
        problem: Problem,
        candidates: tuple[Candidate, ...],
        layout: Layout,
        filters: dict[str, tuple[str, ...]] | None = None,
        strength: tuple[bool, ...] = (),
    ) -> None:
        super().__init__(problem)
        self.candidates = candidates
        self.layout = layout
        self.filters = filters or {}
        self.strength = strength


def column_name(layout: Layout, index: int) -> str:
    """Name of a column in its header where that names no other column too, else its number from 1."""
    name = layout.header[index] if layout.header else ""
    clear = name and layout.header and layout.header.count(name) == 1 and not name.isdigit()
    return name if clear else str(index + 1)


def candidate(meaning: Meaning, columns: dict[int, Column], layout: Layout, rows: int, sampled: bool = False) -> Candidate:
    """What a reading of the sample would mean for the whole log of `rows` rows."""
    ms = durations_ns(meaning, columns) / 1e6
    mean = float(np.nanmean(ms)) if np.isfinite(ms).any() else float("nan")
    seconds = mean * rows / 1000.0
    if sampled and meaning.elapsed is not None:
        period = float(np.median(columns[meaning.elapsed].steps)) * SCALE[meaning.elapsed_unit or Unit.S] / 1e9
        seconds = period * rows
        mean = 1000.0 / float(np.nanmean(columns[meaning.column].values)) if meaning.role is Role.RATE else mean
    return Candidate(
        column=column_name(layout, meaning.column),
        role=meaning.role,
        unit=meaning.unit,
        score=meaning.proof,
        why=meaning.why,
        first_ms=tuple(round(float(v), 3) for v in ms[:4]),
        average_rate=1000.0 / mean if mean > 0 else float("nan"),
        seconds=seconds,
        trace=trace(ms),
        sampled=sampled,
    )


def trace(ms: Floats) -> str:
    """The pace over the sample in block characters, high = fast."""
    good = ms[np.isfinite(ms) & (ms > 0)]
    parts = np.array_split(good, min(WIDTH, max(good.size, 1)))
    rates = np.array([1000.0 / part.mean() for part in parts if part.size])
    if not rates.size or rates.max() == rates.min():
        return BLOCKS[3] * rates.size
    levels = (rates - rates.min()) / (rates.max() - rates.min()) * (len(BLOCKS) - 1)
    return "".join(BLOCKS[round(level)] for level in levels)


def unclear(
    found: Found, told: Meanings, columns: dict[int, Column], rows: int, name: str, filters: dict[str, tuple[str, ...]]
) -> UnclearLog:
    """The error that says what the log could be and which flags settle it. filters : text column -> its values."""
    guesses = tuple(candidate(m, columns, found.layout, rows, told.sampled) for m in told.found)
    if not guesses and not filters:
        there = listed([plain(column_name(found.layout, i), 40) for i in range(min(found.layout.columns, COLUMNS))])
        do = f"say what to read with --column, --role and --unit; its columns are {there}"
        return UnclearLog(Problem("log-unclear", "no column can be told to be the frames", name, do), (), found.layout)
    what = told.why_not or "its numbers can be read in several ways"
    if told.sampled:
        what = "it has one row a polling period, and several columns may be its average"
    problem = Problem("log-unclear", what, name, _way_out(guesses, filters))
    return UnclearLog(problem, guesses, found.layout, filters, told.strength)


def of_several(errors: Sequence[tuple[Layout, tuple[Candidate, ...]]], name: str) -> UnclearLog:
    """The error for text that can be split in several ways: the guesses of each, with the flags for its layout too."""
    guesses = tuple(replace(guess, delimiter=layout.delimiter, decimal=layout.decimal) for layout, own in errors for guess in own)
    what = "the comma may part columns or mark decimals"
    return UnclearLog(Problem("log-unclear", what, name, _way_out(guesses, {})), guesses, errors[0][0])


def _way_out(guesses: Sequence[Candidate], filters: dict[str, tuple[str, ...]]) -> str:
    said = [f"{c.flags()}   {_meant(c)}; {c.why}{INDENT}  {c.trace}" for c in guesses[:MOST]]
    if len(guesses) > MOST:
        said.append(f"and {counted(len(guesses) - MOST, 'way')} more that are less likely")
    asked = [f"--where {quoted(f'{plain(c)}={plain(v)}')}   rows of one program only" for c, vs in filters.items() for v in vs]
    return f"choose one; it is remembered for logs of this layout:{INDENT}" + INDENT.join([*said, *asked[:MOST]])


def _meant(c: Candidate) -> str:
    first = ", ".join(number(v, 3 if v < 1 else 2) for v in c.first_ms)
    return f"{number(c.average_rate, 1)} frames a second, {duration_words(c.seconds)}; first {first} ms"
