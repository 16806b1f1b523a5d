"""Columns of a log as arrays: at the speed of a general reader where every row is good, row by row where one is not."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from evenhand.frames.cells import Kind, fits, kind, split
from evenhand.frames.layout import Found
from evenhand.frames.model import BadRow, Floats

NO_SEPARATOR: Final = "\x1f"
DAY_NS: Final = 86_400 * 10**9
_BLANKS: Final = re.compile(rb"[ \t]+")
_EDGES: Final = re.compile(rb"(?m)^[ \t]+|[ \t]+$")


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Parsed rows. values : column -> numbers; int64 for whole numbers, int64 nanoseconds for times of day and dates, else float64.

    lines : 1-based line of each row, or None where they follow each other from `first_line`. bad : lines that are no rows.
    """

    values: dict[int, NDArray[np.int64] | Floats]
    rows: int
    first_line: int
    lines: NDArray[np.int64] | None = None
    bad: tuple[BadRow, ...] = ()

    def line(self, row: int) -> int:
        """Line of a row, 1-based."""
        return int(self.lines[row]) if self.lines is not None else self.first_line + row


def parse(
    text: str, found: Found, wanted: Sequence[int], most_rows: int | None = None, where: tuple[int, str] | None = None
) -> Columns:
    """The wanted columns (0-based), of the first `most_rows` rows or of all. where : (column, text) that rows must have."""
    end = found.end if most_rows is None else _after(text, found.begin, found.end, most_rows)
    body = text[found.begin : end]
    if where is None and found.regular:
        fast = _fast(body, found, wanted)
        if fast is not None:
            return fast
    return _careful(body, found, wanted, where)


def texts(text: str, found: Found, column: int, most_rows: int = 4000) -> list[str]:
    """Cells of a text column, in its first rows."""
    body = text[found.begin : _after(text, found.begin, found.end, most_rows)]
    rows = (split(line, found.layout.delimiter) for line in body.split("\n") if line.strip())
    return [row[column] for row in rows if len(row) == found.layout.columns]


def _after(text: str, begin: int, end: int, rows: int) -> int:
    """Where the given number of lines ends; never in the middle of one."""
    at = begin
    for _ in range(rows):
        at = text.find("\n", at, end) + 1
        if at == 0:
            return end
    return at


def _fast(body: str, found: Found, wanted: Sequence[int]) -> Columns | None:
    """All rows at once, or None where any row is not like the others."""
    data = body.encode()
    separator = found.layout.delimiter or NO_SEPARATOR
    if separator == " ":
        data = _BLANKS.sub(b" ", _EDGES.sub(b"", data))
    rows = data.count(b"\n") + (0 if data.endswith(b"\n") else 1)
    quoted = b'"' in data
    if b"\n\n" in data or (not quoted and data.count(separator.encode()) != rows * (found.layout.columns - 1)):
        return None
    schema = {f"column_{c + 1}": _dtype(found, c) if c in wanted else pl.String for c in range(found.layout.columns)}
    try:
        table = pl.read_csv(
            data,
            has_header=False,
            separator=separator,
            schema=schema,
            columns=list(wanted),
            decimal_comma=found.layout.decimal == ",",
            quote_char='"' if quoted else None,
            null_values=None,
        )
        values = {c: _array(table[:, i], found.kinds[c]) for i, c in enumerate(sorted(wanted))}
    except (pl.exceptions.PolarsError, ValueError):
        return None
    if table.height != rows or any(table.null_count().row(0)):
        return None
    return Columns(values, rows, found.layout.first_row)


def _dtype(found: Found, column: int) -> type[pl.DataType]:
    if found.kinds[column] is not Kind.NUMBER:
        return pl.String
    return pl.Int64 if found.decimals[column] == 0 else pl.Float64


def _array(series: pl.Series, what: Kind) -> NDArray[np.int64] | Floats:
    if what is Kind.NUMBER:
        return series.to_numpy()
    return _moments(series.to_list(), what)


def _moments(cells: Sequence[str], what: Kind) -> NDArray[np.int64]:
    """Clock times or dates in nanoseconds; a clock that passes midnight goes on. Raises ValueError."""
    parsed = np.array([_clock_ns(cell) if what is Kind.CLOCK else _moment_ns(cell) for cell in cells], dtype=np.int64)
    if what is Kind.CLOCK and parsed.size:
        parsed = parsed + DAY_NS * np.concatenate(([0], np.cumsum(np.diff(parsed) < -DAY_NS // 2)))
    return parsed


def _clock_ns(cell: str) -> int:
    hours, minutes, rest = cell.strip().strip('"').split(":")
    seconds, _, fraction = rest.replace(",", ".").partition(".")
    return (int(hours) * 3600 + int(minutes) * 60 + int(seconds)) * 10**9 + int((fraction + "0" * 9)[:9])


def _moment_ns(cell: str) -> int:
    plain, fraction, zone = re.fullmatch(r"([^.,Z+]{19})(?:[.,](\d+))?(.*)", cell.strip().strip('"')).groups("")  # type: ignore[union-attr]
    moment = datetime.fromisoformat(plain + zone)
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return round(moment.timestamp()) * 10**9 + int((fraction + "0" * 9)[:9])


def _careful(body: str, found: Found, wanted: Sequence[int], where: tuple[int, str] | None) -> Columns:
    """Row by row: blank lines, comments and repeated headers are passed over; what is no row is told with its place."""
    layout = found.layout
    kept: dict[int, list[str]] = {c: [] for c in wanted}
    lines: list[int] = []
    bad: list[BadRow] = []
    for number, line in enumerate(body.split("\n"), start=layout.first_row):
        cells = split(line, layout.delimiter)
        if not line.strip() or line.lstrip().startswith(("#", "//")) or tuple(cells) == layout.header:
            continue
        if where is not None and (len(cells) <= where[0] or cells[where[0]] != where[1]):
            continue
        wrong = _wrong(cells, found, wanted)
        if wrong is not None:
            bad.append(BadRow(number, *wrong))
            continue
        lines.append(number)
        for c in wanted:
            kept[c].append(cells[c])
    values = {c: _converted(kept[c], found, c) for c in wanted}
    return Columns(values, len(lines), layout.first_row, np.array(lines, dtype=np.int64), tuple(bad))


def _wrong(cells: list[str], found: Found, wanted: Sequence[int]) -> tuple[int, str, str] | None:
    """(column, its text, why) of what makes a line no row; None where it is one."""
    layout = found.layout
    if len(cells) != layout.columns:
        return min(len(cells), layout.columns), cells[-1], f"{len(cells)} cells instead of {layout.columns}"
    kinds = [kind(cell, layout.decimal) for cell in cells]
    if fits(kinds, found.kinds) and all(kinds[c] is not Kind.EMPTY for c in wanted):
        return None
    for c in wanted:
        if kinds[c] is Kind.EMPTY:
            return c + 1, cells[c], "no number"
        if kinds[c] is not found.kinds[c]:
            return c + 1, cells[c], "not a number" if found.kinds[c] is Kind.NUMBER else "not a time"
    return None


def _converted(cells: list[str], found: Found, column: int) -> NDArray[np.int64] | Floats:
    if found.kinds[column] is not Kind.NUMBER:
        return _moments(cells, found.kinds[column])
    plain = [cell.replace(",", ".") for cell in cells] if found.layout.decimal == "," else cells
    if found.decimals[column] == 0:
        try:
            return np.array([int(cell) for cell in plain], dtype=np.int64)
        except (ValueError, OverflowError):
            pass
    return np.array([float(cell) for cell in plain], dtype=np.float64)
