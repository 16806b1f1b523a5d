"""Read a frame log: bytes to frames, by looking at the data. No recorder and no column is known by name."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem
from evenhand.frames.candidates import UnclearLog, column_name, unclear
from evenhand.frames.cells import TIMES, Kind
from evenhand.frames.columns import Columns, parse, texts
from evenhand.frames.durations import Durations, durations
from evenhand.frames.layout import Found, layouts
from evenhand.frames.load import load_bytes, unpack
from evenhand.frames.model import BadRow, Frames, Layout, Reading, Recipe, Role, Unit
from evenhand.frames.roles import SCALE, Column, Meaning, Meanings, meanings
from evenhand.frames.text import LABELS, decode
from evenhand.units import number
from evenhand.wording import counted, listed, plain

__all__ = ["UnclearLog", "load_bytes", "read_log", "recipe_of"]

SAMPLE: Final = 4000  # rows from which roles are told; every row is checked afterwards
FEWEST: Final = 3
MOST_BAD: Final = 5  # shown
NAMES_OF: Final = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "pipe", " ": "blanks", "": "one column"}
LABEL: Final = re.compile(r"^[#/%*\s]*([^:=]{1,60}?)\s*[:=]\s*(.{1,200})$")


@dataclass(frozen=True, slots=True)
class _Choice:
    """What was said beforehand: by the person or by a recipe."""

    column: str | None
    role: Role | None
    unit: Unit | None
    where: tuple[str, str] | None


def read_log(
    data: bytes,
    *,
    name: str,
    recipe: Recipe | None = None,
    column: str | None = None,
    role: Role | None = None,
    unit: Unit | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    where: tuple[str, str] | None = None,
    seconds_hint: float | None = None,
    skip_bad_rows: bool = False,
) -> Reading:
    """Frames of a log.

    data : its bytes, also gzip, xz or Zstandard. name : how errors call it. recipe, or column/role/unit/delimiter/decimal/where :
    what is known beforehand. seconds_hint : length of the scene, which settles units that numbers alone leave open.
    Raises LogError with line and column; UnclearLog where a word from the person is needed.
    """
    text, encoding = decode(unpack(data, name), name)
    if recipe is not None:
        delimiter, decimal = recipe.delimiter, recipe.decimal
        column, role, unit, where = recipe.column, recipe.role, recipe.unit, recipe.where
    found = layouts(text, encoding, delimiter, decimal)
    if not found:
        what = "no two rows have the same form: this is no table with one row a frame"
        raise LogError(Problem("log-no-table", what, name, "give the recorder's log with one row a frame, not its summary"))
    if recipe is not None and found[0].layout.shape != recipe.shape:
        what = f"the log is laid out as {found[0].layout.shape}, not as the recipe expects ({recipe.shape})"
        raise LogError(Problem("recipe-misfit", what, name, "choose anew with --column, --role and --unit"))
    choice = _Choice(column, role, unit, where)
    readings, failures = [], []
    for one in found:
        try:
            readings.append(_read(text, one, name, choice, seconds_hint, skip_bad_rows))
        except LogError as error:
            failures.append(error)
    if len(readings) == 1 or (readings and _alike(readings)):
        return readings[0]
    if readings:
        shapes = listed([f"--delimiter {r.layout.delimiter!r} --decimal {r.layout.decimal!r}" for r in readings], "or")
        what = "the comma may part columns or mark decimals"
        raise UnclearLog(Problem("log-unclear", what, name, f"say which: {shapes}"), (), readings[0].layout)
    raise next((e for e in failures if isinstance(e, UnclearLog)), failures[0])


def recipe_of(reading: Reading) -> Recipe:
    """What reads logs of this layout the same way again."""
    layout = reading.layout
    return Recipe(layout.shape, reading.column, reading.role, reading.unit, layout.decimal, layout.delimiter, reading.where)


def _alike(readings: Sequence[Reading]) -> bool:
    return all(np.array_equal(readings[0].frames.ns, other.frames.ns) for other in readings[1:])


def _read(text: str, found: Found, name: str, choice: _Choice, seconds: float | None, skip: bool) -> Reading:
    where = (_index(found.layout, choice.where[0], name), choice.where[1]) if choice.where else None
    numeric = [c for c, k in enumerate(found.kinds) if k in TIMES]
    if not numeric:
        raise LogError(Problem("log-no-table", "it has no column of numbers", name, "give a log with one row a frame"))
    sample = parse(text, found, numeric, SAMPLE, where)
    if sample.bad:
        sample = parse(text, found, _readable(text, found, numeric, where), SAMPLE, where)
    if sample.rows < FEWEST:
        if where and not sample.rows:
            raise LogError(Problem("log-too-few-rows", f"no row has {choice.where!r}", name, "check the column and its value"))
        bad = f"; line {sample.bad[0].line}: {sample.bad[0].why}" if sample.bad else ""
        what = f"it has {counted(sample.rows, 'row')} of numbers, fewer than {FEWEST}{bad}"
        raise LogError(Problem("log-too-few-rows", what, name, "record the run again"))
    columns = {c: _column(sample, found, c) for c in sample.values}
    filters = {} if where else _filters(text, found)
    rows = max(found.layout.last_row - found.layout.first_row + 1, sample.rows)
    told = meanings(list(columns.values()), rows, bool(filters), seconds)
    meaning = _chosen(found, columns, told, choice, name)
    if meaning is None:
        if not told.clear:
            raise unclear(found, told.found, columns, rows, name, filters)
        meaning = told.found[0]
    whole = sample if found.layout.last_row < found.layout.first_row + SAMPLE else None
    return _whole(text, found, name, meaning, told, choice.where, where, skip, whole)


def _readable(text: str, found: Found, numeric: Sequence[int], where: tuple[int, str] | None) -> list[int]:
    """Columns with a number in every row of the sample but for a few: an empty cell in a column nobody needs spoils no row."""
    few = parse(text, found, [], SAMPLE, where)
    kept = []
    for c in numeric:
        own = parse(text, found, [c], SAMPLE, where)
        if own.rows >= 0.9 * max(few.rows, 1):
            kept.append(c)
    return kept or list(numeric)


def _column(sample: Columns, found: Found, index: int) -> Column:
    values = sample.values[index]
    # Stamps counted from 1970 in nanoseconds do not fit a float; their steps do.
    shifted = values - values[0] if values.dtype == np.int64 and values.size and abs(int(values[0])) > 2**50 else values
    return Column(index, shifted.astype(np.float64), found.kinds[index], _quantum(found, index))


def _quantum(found: Found, index: int) -> float:
    return 10.0 ** -found.decimals[index] if found.kinds[index] is Kind.NUMBER else 1.0


def _filters(text: str, found: Found) -> dict[str, tuple[str, ...]]:
    """Text columns that name a few things, each in many rows: perhaps several programs in one log."""
    named = {}
    for c in (c for c, k in enumerate(found.kinds) if k is Kind.TEXT):
        cells = texts(text, found, c, SAMPLE)
        often = [value for value, n in Counter(cells).most_common(9) if n >= 0.02 * len(cells) and value]
        if 2 <= len(often) <= 8:
            named[column_name(found.layout, c)] = tuple(often)
    return named


def _index(layout: Layout, column: str, name: str) -> int:
    """0-based index of a column by its name or its number from 1. Raises LogError."""
    if layout.header and column in layout.header:
        return layout.header.index(column)
    if column.isdigit() and 1 <= int(column) <= layout.columns:
        return int(column) - 1
    names = listed([plain(column_name(layout, i), 40) for i in range(min(layout.columns, 30))])
    raise LogError(Problem("log-no-column", f"there is no column {column!r}", name, f"its columns are {names}"))


def _chosen(found: Found, columns: dict[int, Column], told: Meanings, choice: _Choice, name: str) -> Meaning | None:
    """The reading that was said beforehand, completed by what the numbers show; None where nothing was said."""
    if choice.column is None and choice.role is None and choice.unit is None:
        return None
    index = _index(found.layout, choice.column, name) if choice.column is not None else None
    fitting = [
        m
        for m in told.found
        if (index is None or m.column == index)
        and (choice.role is None or m.role is choice.role)
        and (choice.unit is None or m.unit is choice.unit)
    ]
    if len(fitting) == 1:
        return fitting[0]
    if index is None and len(columns) == 1:
        index = next(iter(columns))
    if index is None or choice.role is None or (choice.unit is None and choice.role is not Role.RATE):
        return None
    if index not in columns:
        what = f"column {choice.column!r} has no numbers to read frames from"
        raise LogError(Problem("log-no-column", what, name, "choose a column of numbers"))
    unit = Unit.PER_S if choice.role is Role.RATE else choice.unit
    if unit is None or (choice.role is not Role.RATE and unit not in SCALE):
        raise LogError(
            Problem("log-no-column", f"{choice.unit} is no unit of a {choice.role}", name, "choose s, ms, us, 100ns or ns")
        )
    return Meaning(index, choice.role, unit, why="as was said")


def _whole(
    text: str,
    found: Found,
    name: str,
    meaning: Meaning,
    told: Meanings,
    said_where: tuple[str, str] | None,
    where: tuple[int, str] | None,
    skip: bool,
    columns: Columns | None,
) -> Reading:
    """The whole log under a settled reading. columns : where the sample held all rows, so that they need not be parsed again."""
    wanted = sorted({meaning.column} | ({meaning.elapsed} if meaning.elapsed is not None else set()))
    if columns is None or columns.bad:
        columns = parse(text, found, wanted, None, where)
    quanta = {c: _quantum(found, c) for c in wanted}
    sampled = told.sampled and meaning in told.found
    made = _polled(meaning, columns) if sampled else durations(meaning, columns, quanta)
    bad = made.bad if not sampled else columns.bad
    if bad and not skip:
        raise _bad_rows(bad, name)
    if made.ns.size < 1:
        raise LogError(Problem("log-too-few-rows", "no row of it is a frame", name, "record the run again"))
    frames = Frames(made.ns)
    chosen = replace(meaning, why="") if sampled else meaning
    return Reading(
        frames=frames,
        layout=found.layout,
        column=column_name(found.layout, meaning.column),
        role=meaning.role,
        unit=meaning.unit,
        account=_account(frames, found, chosen, len(bad), sampled),
        sampled=sampled,
        bad_rows=bad,
        labels=_labels(found.layout),
        where=said_where,
    )


def _polled(meaning: Meaning, columns: Columns) -> Durations:
    """Frames of equal length that add up to what the polling periods counted: right for the average and for nothing else."""
    rates = columns.values[meaning.column].astype(np.float64)
    stamps = columns.values[meaning.elapsed] if meaning.elapsed is not None else np.arange(rates.size)
    seconds = np.diff(stamps) * SCALE[meaning.elapsed_unit or Unit.S] / 1e9
    total = float(seconds.sum() * 1e9)
    count = max(round(float((rates[1:] * seconds).sum())), 1)
    edges = np.rint(np.linspace(0.0, total, count + 1)).astype(np.int64)
    return Durations(np.diff(edges), columns.bad)


def _bad_rows(bad: Sequence[BadRow], name: str) -> LogError:
    shown = [
        Problem(
            "log-bad-row", f"{plain(b.text, 40)!r} is {b.why}" if b.text else b.why, f"{name}, line {b.line}, column {b.column}"
        )
        for b in bad[:MOST_BAD]
    ]
    more = f"; {len(bad) - MOST_BAD} more such rows" if len(bad) > MOST_BAD else ""
    last = replace(shown[-1], do=f"record the run again, or take it without these rows with --skip-bad-rows{more}")
    return LogError([*shown[:-1], last])


def _labels(layout: Layout) -> dict[str, str]:
    matches = (LABEL.match(line) for line in layout.preamble)
    return {plain(m.group(1).strip(), 60): plain(m.group(2).strip()) for m in matches if m}


def _account(frames: Frames, found: Found, meaning: Meaning, bad: int, sampled: bool) -> str:
    """One line: what was understood."""
    layout = found.layout
    column = plain(column_name(layout, meaning.column), 40)
    rate = len(frames) / frames.seconds
    what = "sampled, one row a polling period: average only" if sampled else counted(len(frames), "frame")
    parts = [f"{what} in {number(frames.seconds, 2)} s (average {number(rate, 1)} a second)"]
    parts.append(f"from column {column} as {meaning.role.value} in {meaning.unit.value}")
    parts.append(f"{LABELS[layout.encoding]}, {NAMES_OF.get(layout.delimiter, layout.delimiter)}")
    extras = [
        (len(layout.preamble), "line above the rows", "lines above the rows"),
        (len(layout.footer), "line below", "lines below"),
        (bad, "bad row left out", "bad rows left out"),
    ]
    parts += [counted(n, one, many) for n, one, many in extras if n]
    if found.half_line:
        parts.append("the last line was cut off and is left out")
    return "; ".join(parts)
