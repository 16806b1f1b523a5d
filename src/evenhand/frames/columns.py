"""Columns of a log as arrays: at the speed of a general reader where every row is good, row by row where one is not."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from evenhand.frames.cells import NONE, Kind, fits, is_comment, kind, split
from evenhand.frames.layout import Found
from evenhand.frames.model import BadRow, Floats
from evenhand.frames.text import count_byte

NO_SEPARATOR: Final = "\x1f"
SHOWS: Final = 2**14  # bytes in which the habits of a recorder show
LONG: Final = 8  # digits before a fraction; with nanoseconds behind them a float does not hold them
GOES_ON: Final = 0.95  # share of steps forwards that makes a time
GIVE_UP: Final = 10_000  # bad rows after which a log is no log of frames; the rest is not read
DAY_NS: Final = 86_400 * 10**9
_MOMENT: Final = re.compile(r"([^.,Z+]{19})(?:[.,](\d+))?(.*)")


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Parsed rows.

    values : column -> numbers; int64 for whole numbers, int64 nanoseconds for times of day and dates, else float64.
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
    text: bytes,
    found: Found,
    wanted: Sequence[int],
    most_rows: int | None = None,
    where: tuple[int, str] | None = None,
    gaps: bool = False,
) -> Columns:
    """The wanted columns (0-based), of the first `most_rows` rows or of all.

    where : (column, text) that rows must have. gaps : a cell without a number is NaN and spoils no row.
    """
    end = found.end if most_rows is None else _after(text, found.begin, found.end, most_rows)
    body = text[found.begin : end]
    if where is None and found.regular and (gaps or most_rows is None):
        fast = _fast(body, found, sorted(wanted), gaps)
        if fast is not None:
            return fast
    return _careful(body, found, wanted, where, gaps)


def texts(text: bytes, found: Found, column: int, most_rows: int) -> list[str]:
    """Cells of a text column, in its first rows."""
    body = text[found.begin : _after(text, found.begin, found.end, most_rows)].decode()
    delimiter = found.layout.delimiter
    if delimiter.strip() and '"' not in body:
        rows = (line.split(delimiter, column + 1) for line in body.split("\n"))
        return [row[column].strip() for row in rows if len(row) > column]
    rows = (split(line, delimiter) for line in body.split("\n") if line.strip())
    return [row[column] for row in rows if len(row) == found.layout.columns]


def _after(text: bytes, begin: int, end: int, rows: int) -> int:
    """Where the given number of lines ends; never in the middle of one."""
    at = begin
    for _ in range(rows):
        at = text.find(b"\n", at, end) + 1
        if at == 0:
            return end
    return at


def _fast(body: bytes, found: Found, wanted: Sequence[int], gaps: bool) -> Columns | None:
    """All rows at once, or None where any row is not like the others."""
    layout = found.layout
    separator = layout.delimiter or NO_SEPARATOR
    quoted = b'"' in body
    body = body if quoted else _tightened(body, separator.encode())
    rows = body.count(b"\n") + (0 if body.endswith(b"\n") else 1) if gaps else layout.last_row - layout.first_row + 1
    ragged = not quoted and count_byte(body, separator.encode()) != rows * (layout.columns - 1)
    if not wanted or ragged or (gaps and (b"\n\n" in body or b"\n\r\n" in body)):
        return None
    first = split(body[: _after(body, 0, len(body), 1)].decode(), layout.delimiter)
    long = {c for c in wanted if _is_long(first[c], found, c)}
    schema = {f"column_{c + 1}": _dtype(found, c) if c in {*wanted} - long else pl.String for c in range(layout.columns)}
    try:
        table = pl.read_csv(
            body,
            has_header=False,
            separator=separator,
            schema=schema,
            columns=list(wanted),
            decimal_comma=layout.decimal == "," and separator != ",",
            quote_char='"' if quoted else None,
            null_values=[spelt for word in NONE for spelt in {word, word.upper(), word.title()}] if gaps else None,
        )
        if table.height != rows or (not gaps and any(table.null_count().row(0))):
            return None
        read = {c: table[:, i] for i, c in enumerate(wanted)}
        values = {c: _long(s, found, c) if c in long else _array(s, found.kinds[c]) for c, s in read.items()}
    except (pl.exceptions.PolarsError, ValueError):
        return None
    return Columns(values, rows, layout.first_row)


def _tightened(body: bytes, separator: bytes) -> bytes:
    """Rows without blanks round their cells; where blanks part cells, with one blank between two."""
    head = body[:SHOWS]
    if separator != b" " and not any(pair in head for pair in (b"\n ", b" \n", separator + b" ", b" " + separator)):
        return body
    body = body.translate(None, b"\r")
    body = body.replace(b"\t", b" ") if separator == b" " else body
    while b"  " in body:
        body = body.replace(b"  ", b" ")
    around = (b"\n",) if separator == b" " else (b"\n", separator)
    for mark in around:
        body = body.replace(b" " + mark, mark).replace(mark + b" ", mark)
    return body.strip(b" ")


def _dtype(found: Found, column: int) -> type[pl.DataType]:
    if found.kinds[column] is not Kind.NUMBER:
        return pl.String
    return pl.Int64 if found.decimals[column] == 0 else pl.Float64


def _is_long(cell: str, found: Found, column: int) -> bool:
    """Whether a number with a fraction has so many digits before it that it may be seconds counted from a date."""
    whole, mark, _ = cell.partition(found.layout.decimal)
    return found.kinds[column] is Kind.NUMBER and bool(mark) and len(whole) >= LONG


def _long(cells: pl.Series, found: Found, column: int) -> Floats:
    """Long numbers: where they go on as time does, from the first one on, the difference taken before digits are lost.

    Raises PolarsError where a cell is no plain number.
    """
    plain = cells.str.replace(found.layout.decimal, ".", literal=True)
    exact = plain.cast(pl.Decimal(38, found.decimals[column]))
    numbers = exact.cast(pl.Float64).to_numpy()
    goes_on = numbers.size > 1 and numbers[-1] > numbers[0] and (np.diff(numbers) >= 0).mean() >= GOES_ON
    return (exact - exact[0]).cast(pl.Float64).to_numpy() if goes_on else numbers


def _array(series: pl.Series, what: Kind) -> NDArray[np.int64] | Floats:
    """Raises ValueError for a time that cannot be read."""
    if what is Kind.NUMBER:
        return series.to_numpy()  # whole numbers with gaps become floats
    return _moments(series.to_list(), what)


def _moments(cells: Sequence[str | None], what: Kind) -> NDArray[np.int64]:
    """Clock times or dates in nanoseconds; a clock that passes midnight goes on. Raises ValueError."""
    read = _clock_ns if what is Kind.CLOCK else _moment_ns
    parsed = np.fromiter((read(cell or "") for cell in cells), dtype=np.int64, count=len(cells))
    if what is Kind.CLOCK and parsed.size:
        parsed = parsed + DAY_NS * np.concatenate(([0], np.cumsum(np.diff(parsed) < -DAY_NS // 2)))
    return parsed


def _clock_ns(cell: str) -> int:
    hours, minutes, rest = cell.strip(' "').split(":")
    seconds, _, fraction = rest.replace(",", ".").partition(".")
    return (int(hours) * 3600 + int(minutes) * 60 + int(seconds)) * 10**9 + int((fraction + "0" * 9)[:9])


def _moment_ns(cell: str) -> int:
    match = _MOMENT.fullmatch(cell.strip(' "'))
    if match is None:
        raise ValueError(cell)
    plain, fraction, zone = match.groups()
    moment = datetime.fromisoformat(plain + zone)
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return round(moment.timestamp()) * 10**9 + int(((fraction or "") + "0" * 9)[:9])


def _careful(body: bytes, found: Found, wanted: Sequence[int], where: tuple[int, str] | None, gaps: bool) -> Columns:
    """Row by row: blank lines, comments and repeated headers are passed over; what is no row is told with its place."""
    layout = found.layout
    kept: dict[int, list[str]] = {c: [] for c in wanted}
    lines: list[int] = []
    bad: list[BadRow] = []
    for number, line in enumerate(io.StringIO(body.decode(), newline="\n"), start=layout.first_row):
        cells = split(line.rstrip("\r\n"), layout.delimiter)
        if not line.strip() or is_comment(line) or (tuple(cells) == layout.header):
            continue
        if where is not None and (len(cells) <= where[0] or cells[where[0]] != where[1]):
            continue
        wrong = _wrong(cells, found, wanted)
        if wrong is not None and not (gaps and len(cells) == layout.columns):
            bad.append(BadRow(number, *wrong))
            if len(bad) >= GIVE_UP:
                break
            continue
        lines.append(number)
        for c in wanted:
            kept[c].append(cells[c])
    values = {c: _converted(kept[c], found, c, gaps) for c in wanted}
    return Columns(values, len(lines), layout.first_row, np.array(lines, dtype=np.int64), tuple(bad))


def _wrong(cells: list[str], found: Found, wanted: Sequence[int]) -> tuple[int, str, str] | None:
    """(column, its text, why) of what makes a line no row; None where it is one."""
    layout = found.layout
    if len(cells) != layout.columns:
        return min(len(cells), layout.columns), cells[-1], f"{len(cells)} cells instead of {layout.columns}"
    for c in wanted:
        have = kind(cells[c], layout.decimal)
        if have is Kind.EMPTY:
            return c + 1, cells[c], "no number"
        if not fits([have], (found.kinds[c],)):
            return c + 1, cells[c], "not a number" if found.kinds[c] is Kind.NUMBER else "not a time"
    return None


def _converted(cells: list[str], found: Found, column: int, gaps: bool) -> NDArray[np.int64] | Floats:
    want, mark = found.kinds[column], found.layout.decimal
    holes = {i for i, cell in enumerate(cells) if kind(cell, mark) is not want} if gaps else set()
    if want is not Kind.NUMBER:
        return _times(cells, want, holes)
    plain = [cell.replace(",", ".") for cell in cells] if mark == "," else cells
    if found.decimals[column] == 0 and not holes:
        try:
            return np.array([int(cell) for cell in plain], dtype=np.int64)
        except (ValueError, OverflowError):
            pass
    if cells and not holes and _is_long(cells[0], found, column):
        try:
            return _long(pl.Series(cells, dtype=pl.String), found, column)
        except pl.exceptions.PolarsError:
            pass
    return np.array([np.nan if i in holes else float(cell) for i, cell in enumerate(plain)], dtype=np.float64)


def _times(cells: list[str], want: Kind, holes: set[int]) -> NDArray[np.int64] | Floats:
    values = _moments([cell for i, cell in enumerate(cells) if i not in holes], want)
    if not holes:
        return values
    whole = np.full(len(cells), np.nan)
    whole[[i for i in range(len(cells)) if i not in holes]] = values
    return whole
