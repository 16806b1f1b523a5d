"""Read a frame log: bytes to frames, by looking at the data. No recorder and no column is known by name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem
from evenhand.frames.account import bad_rows_error, finished
from evenhand.frames.candidates import UnclearLog, candidate, column_name, of_several, unclear
from evenhand.frames.cells import TIMES, Kind
from evenhand.frames.columns import GIVE_UP, Columns, parse, texts
from evenhand.frames.counters import lost_rows
from evenhand.frames.durations import averaged, durations
from evenhand.frames.evidence import SCALE, Column, Meaning
from evenhand.frames.layout import Found, layouts
from evenhand.frames.load import load_bytes, unpack
from evenhand.frames.model import Candidate, Layout, Reading, Recipe, Role, Unit
from evenhand.frames.roles import Meanings, meanings
from evenhand.frames.text import decode
from evenhand.wording import counted, listed, plain

__all__ = ["UnclearLog", "load_bytes", "read_log", "recipe_of"]

SAMPLE: Final = 4000  # rows from which roles are told; every row is checked afterwards
SAMPLE_CELLS: Final = 20_000  # and cells: of a wide log fewer rows are looked at,
LEAST_SAMPLE: Final = 800  # but never fewer than this
FEWEST: Final = 3
MOST_ROWS: Final = 5_000_000  # an hour at more than 1000 frames a second
OFTEN: Final = 0.02  # of rows that a program has, to be one of several
MOST_FILTERED: Final = 8


@dataclass(frozen=True, slots=True)
class _Asked:
    """The call: what was said beforehand, by the person or by a recipe."""

    name: str
    column: str | None
    role: Role | None
    unit: Unit | None
    where: tuple[str, str] | None
    seconds: float | None
    skip: bool


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
    if found[0].layout.last_row > MOST_ROWS:
        what = f"the log has {found[0].layout.last_row} lines, more than {MOST_ROWS}"
        raise LogError(Problem("log-too-large", what, name, "record shorter, or cut the log into one file a run"))
    if recipe is not None:
        found = _as_expected(found, recipe, name)
    asked = _Asked(name, column, role, unit, where, seconds_hint, skip_bad_rows)
    return _one_of([_attempt(text, one, asked) for one in found], name)


def recipe_of(reading: Reading) -> Recipe:
    """What reads logs of this layout the same way again."""
    layout = reading.layout
    return Recipe(layout.shape, reading.column, reading.role, reading.unit, layout.decimal, layout.delimiter, reading.where)


def _as_expected(found: Sequence[Found], recipe: Recipe, name: str) -> tuple[Found, ...]:
    fitting = tuple(f for f in found if f.layout.shape == recipe.shape)
    if not fitting:
        what = f"the log is laid out as {plain(found[0].layout.shape)}, not as the recipe expects ({plain(recipe.shape)})"
        raise LogError(Problem("recipe-misfit", what, name, "choose anew with --column, --role and --unit"))
    return fitting


@dataclass(frozen=True, slots=True)
class _Tried:
    """One layout tried: its reading or what stood against it; guesses for a choice between layouts, strength of the evidence."""

    layout: Layout
    reading: Reading | None = None
    error: LogError | None = None
    guesses: tuple[Candidate, ...] = ()
    strength: tuple[bool, ...] = ()


def _one_of(tried: Sequence[_Tried], name: str) -> Reading:
    """The reading under the layout with the best evidence, or the one that all layouts agree on. Raises LogError."""
    open_ = [t for t in tried if t.guesses]
    if not open_:
        raise next((t.error for t in tried if isinstance(t.error, UnclearLog)), None) or tried[0].error or AssertionError
    best = max(t.strength for t in open_)
    open_ = [t for t in open_ if t.strength == best]
    readings = [t.reading for t in open_ if t.reading is not None]
    if len(readings) == len(open_) and all(np.array_equal(readings[0].frames.ns, r.frames.ns) for r in readings[1:]):
        return readings[0]
    if len(open_) == 1:
        raise open_[0].error or AssertionError
    raise of_several([(t.layout, t.guesses) for t in open_], name)


def _attempt(text: bytes, found: Found, asked: _Asked) -> _Tried:
    try:
        reading, guess, strength = _read(text, found, asked)
    except UnclearLog as error:
        return _Tried(found.layout, error=error, guesses=error.candidates, strength=error.strength)
    except LogError as error:
        return _Tried(found.layout, error=error)
    return _Tried(found.layout, reading, guesses=(guess,), strength=strength)


def _read(text: bytes, found: Found, asked: _Asked) -> tuple[Reading, Candidate, tuple[bool, ...]]:
    where = (_index(found.layout, asked.where[0], asked.name), asked.where[1]) if asked.where else None
    numeric = [c for c, k in enumerate(found.kinds) if k in TIMES]
    sample = parse(text, found, numeric, _sample_rows(found), where, gaps=True)
    if sample.rows < FEWEST:
        raise _too_few(sample, asked)
    columns = {c: _column(sample, found, c) for c in sample.values if _filled(sample, c)}
    filters = {} if where else _filters(text, found)
    layout = found.layout
    rows = sample.rows if _holds_all(sample, found) or where else layout.last_row - layout.first_row + 1
    told = meanings(list(columns.values()), rows, bool(filters), asked.seconds)
    meaning = _chosen(found, columns, told, asked)
    if meaning is None:
        if not told.clear:
            raise unclear(found, told, columns, rows, asked.name, filters)
        meaning = told.found[0]
    sampled = told.sampled and meaning in told.found
    reading = _whole(text, found, asked, meaning, sampled, where, sample, columns)
    return reading, candidate(meaning, columns, layout, rows, sampled), told.strength


def _too_few(sample: Columns, asked: _Asked) -> LogError:
    if asked.where and not sample.rows:
        what = f"no row has {plain(asked.where[1])} in column {plain(asked.where[0])}"
        return LogError(Problem("log-too-few-rows", what, asked.name, "check the column and its value"))
    bad = f"; line {sample.bad[0].line}: {sample.bad[0].why}" if sample.bad else ""
    what = f"it has {counted(sample.rows, 'row')} of numbers, fewer than {FEWEST}{bad}"
    return LogError(Problem("log-too-few-rows", what, asked.name, "record the run again"))


def _holds_all(sample: Columns, found: Found) -> bool:
    """Whether the sample has every line of the log."""
    return found.layout.last_row < found.layout.first_row + _sample_rows(found)


def _sample_rows(found: Found) -> int:
    return min(SAMPLE, max(SAMPLE_CELLS // found.layout.columns, LEAST_SAMPLE))


def _filled(sample: Columns, index: int) -> bool:
    values = sample.values[index]
    return values.dtype == np.int64 or float(np.isfinite(values).mean()) >= 0.9


def _column(sample: Columns, found: Found, index: int) -> Column:
    values = sample.values[index]
    # Stamps counted from 1970 in nanoseconds do not fit a float; their steps do.
    shifted = values - values[0] if values.dtype == np.int64 and abs(int(values[0])) > 2**50 else values
    return Column(index, shifted.astype(np.float64), found.kinds[index], _quantum(found, index))


def _quantum(found: Found, index: int) -> float:
    """The smallest step the digits of a column can show; of a time, in nanoseconds."""
    digits = found.decimals[index]
    return float(10.0**-digits if found.kinds[index] is Kind.NUMBER else max(10.0 ** (9 - digits), 1.0))


def _filters(text: bytes, found: Found) -> dict[str, tuple[str, ...]]:
    """Text columns that name a few things, each in many rows: perhaps several programs in one log."""
    named = {}
    for c in (c for c, k in enumerate(found.kinds) if k is Kind.TEXT):
        cells = texts(text, found, c, _sample_rows(found))
        often = [value for value, n in Counter(cells).most_common(MOST_FILTERED + 1) if n >= OFTEN * len(cells) and value]
        if 2 <= len(often) <= MOST_FILTERED:
            named[column_name(found.layout, c)] = tuple(often)
    return named


def _index(layout: Layout, column: str, name: str) -> int:
    """0-based index of a column by its name or its number from 1. Raises LogError."""
    if layout.header and layout.header.count(column) == 1:
        return layout.header.index(column)
    if column.isdecimal() and 1 <= int(column) <= layout.columns:
        return int(column) - 1
    names = listed([plain(column_name(layout, i), 40) for i in range(min(layout.columns, 30))])
    raise LogError(Problem("log-no-column", f"there is no column {plain(column)!r}", name, f"its columns are {names}"))


def _chosen(found: Found, columns: dict[int, Column], told: Meanings, asked: _Asked) -> Meaning | None:
    """The reading that was said beforehand, completed by what the numbers show; None where they leave it open."""
    if asked.column is None and asked.role is None and asked.unit is None:
        return None
    index = _index(found.layout, asked.column, asked.name) if asked.column is not None else None
    fitting = [
        m
        for m in told.found
        if index in (None, m.column) and asked.role in (None, m.role) and (asked.unit in (None, m.unit) or m.role is Role.RATE)
    ]
    if len(fitting) == 1:
        return fitting[0]
    if index is None and len(columns) == 1:
        index = next(iter(columns))
    if index is not None and index not in columns:
        what = f"column {plain(asked.column or '')!r} has no numbers to read frames from"
        raise LogError(Problem("log-no-column", what, asked.name, "choose a column of numbers"))
    unit = _unit(found, index, asked)
    if index is None or asked.role is None or unit is None:
        return None
    if asked.role not in (Role.ELAPSED, Role.DURATION, Role.RATE) or (asked.role is not Role.RATE and unit not in SCALE):
        what = f"{unit} is no unit of a column that is {asked.role}"
        raise LogError(Problem("log-no-column", what, asked.name, "choose s, ms, us, 100ns or ns, and elapsed, duration or rate"))
    return Meaning(index, asked.role, unit, why="as was said")


def _unit(found: Found, index: int | None, asked: _Asked) -> Unit | None:
    if asked.role is Role.RATE:
        return Unit.PER_S
    timed = index is not None and found.kinds[index] is not Kind.NUMBER
    return Unit.CLOCK if timed and asked.role is Role.ELAPSED else asked.unit


def _whole(
    text: bytes,
    found: Found,
    asked: _Asked,
    meaning: Meaning,
    sampled: bool,
    where: tuple[int, str] | None,
    sample: Columns,
    known: dict[int, Column],
) -> Reading:
    """The whole log under a settled reading; the sample serves where it held all rows and each had its numbers."""
    wanted = sorted({meaning.column} | ({meaning.elapsed} if meaning.elapsed is not None else set()))
    columns = sample
    if sample.bad or not _holds_all(sample, found) or any(not np.isfinite(sample.values[c]).all() for c in wanted):
        columns = parse(text, found, wanted, None, where)
    made = averaged(meaning, columns) if sampled else durations(meaning, columns, {c: _quantum(found, c) for c in wanted})
    cut = replace(found, half_line=True) if _is_half(text, found, made.bad) else found
    bad = made.bad[:-1] if cut is not found else made.bad
    if bad and (not asked.skip or len(bad) >= GIVE_UP):
        raise bad_rows_error(bad, asked.name)
    if made.ns.size < 1:
        raise LogError(Problem("log-too-few-rows", "no row of it is a frame", asked.name, "record the run again"))
    lost = 0 if sampled or where else lost_rows(text, found, known, meaning)
    return finished(made.ns, cut, meaning, bad, sampled, asked.where, lost)


def _is_half(text: bytes, found: Found, bad: Sequence[object]) -> bool:
    """Whether the last bad row is the last line, and the recording was stopped in it."""
    last = getattr(bad[-1], "line", 0) if bad else 0
    return bool(last == found.layout.last_row and found.end == len(text) and not text.endswith(b"\n"))
