"""Plain tables from people: a line of headings, a row for each thing; further columns are left alone.

Columns are parted by comma, semicolon, tab or bar, and numbers may have a decimal comma.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.errors import InputError, Problem
from evenhand.study.keys import Range
from evenhand.study.names import folded
from evenhand.wording import counted, listed, nearest, plain

LARGEST: Final = 4_000_000  # bytes
DELIMITERS: Final = ("\t", ";", ",", "|")
MOST_PROBLEMS: Final = 8


@dataclass(frozen=True, slots=True)
class Column:
    """A column of numbers: heading, allowed numbers, the sign of the unit that may follow a number."""

    heading: str
    allowed: Range
    sign: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table as it came. path : for people. rows : (line, cells) of the rows that are not blank, without the headings."""

    path: Path
    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]

    def place(self, name: str) -> int:
        """Which column has that heading. Raises InputError where not exactly one has it."""
        found = [i for i, head in enumerate(self.heads) if folded(head) == name]
        if len(found) == 1:
            return found[0]
        count, has = len(found), listed([plain(head, 40) for head in self.heads])
        what = f"it has {counted(count, 'column')} {name!r}" if count else f"it has no column {name!r}, but {has}"
        raise InputError(Problem("input-column", what, f"{self.path}, line 1", f"name one column {name}"))

    def find(self, name: str) -> int | None:
        """The same; None where none has it."""
        return self.place(name) if name in map(folded, self.heads) else None

    def each(self) -> Iterator[Row]:
        """The rows in order."""
        for line, cells in self.rows:
            yield Row(self.path, line, cells)


@dataclass(frozen=True, slots=True)
class Row:
    """A row with its place in the file; every reading of a cell raises InputError where it cannot be understood."""

    path: Path
    line: int
    cells: Sequence[str]

    def name(self, place: int, what: str, known: Mapping[str, str]) -> str:
        """The study's name of a title, scene or setup, which may be written as its name or its label."""
        text = self.cell(place)
        found = known.get(folded(text))
        if found is None:
            like = nearest(folded(text), tuple(known))
            names = tuple(dict.fromkeys(known.values()))
            do = f"did you mean {known[like]}?" if like else f"the study has {listed(names[:8])}{' …' if len(names) > 8 else ''}"
            raise self.problem(f"the study has no {what} {plain(text, 60)!r}", do)
        return found

    def whole(self, place: int, what: str) -> int:
        """A whole number from 1 to 1000, of a visit, run or pass."""
        text = self.cell(place)
        if not text.isdecimal() or not 1 <= int(text) <= 1000:
            said = f"the {what} is {plain(text, 40)!r}; it is a whole number from 1"
            raise self.problem(said, f"number the {what}s as the logs are" if what != "pass" else "number the passes from 1")
        return int(text)

    def number(self, place: int, column: Column) -> float:
        """A number, with point or comma, with or without the sign of its unit."""
        text = self.cell(place)
        bare = text.removesuffix(column.sign).strip()
        try:
            value = float(bare if "." in bare else bare.replace(",", ".", 1))
        except ValueError:
            value = math.nan
        if value not in column.allowed:
            what = f"{column.heading} is {plain(text, 40)!r}; it is a number {column.allowed}"
            raise self.problem(what, "correct the cell, or remove the row")
        return value

    def cell(self, place: int) -> str:
        """The text of a cell; empty where the row ends before it."""
        return self.cells[place].strip() if place < len(self.cells) else ""

    def problem(self, what: str, do: str) -> InputError:
        """What is wrong in this row."""
        return InputError(Problem("input-row", what, f"{self.path}, line {self.line}", do))


def by_name(known: Sequence[tuple[str, str]]) -> dict[str, str]:
    """Folded name or label -> name; names win over labels. known : (name, label)."""
    return {folded(label): name for name, label in known} | {folded(name): name for name, _ in known}


def load(path: Path, do: str) -> bytes:
    """The bytes of a table; do : the way out where there is none. Raises InputError."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise InputError(Problem("input-unreadable", f"it cannot be opened: {why}", str(path), do)) from error
    if len(data) > LARGEST:
        raise InputError(Problem("input-unreadable", f"it is larger than {LARGEST // 1_000_000} MB", str(path), do))
    return data


def utf8(data: bytes, path: Path) -> str:
    """The text of a table in UTF-8. Raises InputError with the line that is not."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        save = "save the table as text in UTF-8, for instance as CSV"
        raise InputError(Problem("input-unreadable", "it is not text in UTF-8", f"{path}, line {line}", save)) from error


def parse(text: str, path: Path, row_of: str = "title and setup") -> Table:
    """The table; its headings decide what parts the columns. row_of : what has a row. Raises InputError without rows."""
    head = next((line for line in text.splitlines() if line.strip()), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(DELIMITERS, key=head.count))
    rows = [(reader.line_num, tuple(cells)) for cells in reader if any(cell.strip() for cell in cells)]
    if len(rows) < 2:
        what = f"it has {counted(len(rows), 'row')}; it needs a line of headings and a row for each {row_of}"
        raise InputError(Problem("input-column", what, str(path), "fill in the table"))
    return Table(path, tuple(name.strip() for name in rows[0][1]), tuple(rows[1:]))
