"""Plain tables of what was measured beside the frames: power drawn, load of the graphics card.

A table has a line of headings and a row for each title and setup, or each of their visits; further columns are left alone.
Columns are parted by comma, semicolon, tab or bar, and numbers may have a decimal comma.
"""

from __future__ import annotations

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean
from typing import Final

from evenhand.errors import InputError, Problem
from evenhand.study.model import Inputs, Study
from evenhand.study.names import folded
from evenhand.study.schema import Range
from evenhand.wording import counted, listed, nearest, plain

LARGEST: Final = 4_000_000  # bytes
DELIMITERS: Final = ("\t", ";", ",", "|")
MOST_PROBLEMS: Final = 8

Place = tuple[str, str, int | None]


@dataclass(frozen=True, slots=True)
class _Column:
    """What a table holds: heading, allowed numbers, the sign of the unit that may follow a number."""

    heading: str
    allowed: Range
    sign: str


POWER: Final = _Column("watts", Range(0, 10_000, open_low=True), "W")
GRAPHICS_LOAD: Final = _Column("graphics_load", Range(0, 100), "%")


def read_inputs(folder: Path, study: Study) -> Inputs:
    """The tables that the study names, relative to its folder; empty where it names none.

    Rows of the same title, setup and visit are averaged. Raises InputError with every problem of a table, each with its line.
    """
    power = _table(folder, study, "power", POWER)
    load = _table(folder, study, "graphics_load", GRAPHICS_LOAD)
    by_visit = {(title, setup, visit): value for (title, setup, visit), value in power.items() if visit is not None}
    return Inputs(_by_cell(power), by_visit, _by_cell(load))


def _table(folder: Path, study: Study, key: str, column: _Column) -> dict[Place, float]:
    if key not in study.inputs:
        return {}
    path = folder / study.inputs[key]
    rows = list(_rows(_text(path, key), path))
    heads = [name.strip() for name in rows[0][1]]
    title_at, setup_at, value_at = (_place(heads, name, path) for name in ("title", "setup", column.heading))
    visit_at = _place(heads, "visit", path) if "visit" in map(folded, heads) else None
    titles = _names([(t.name, t.label) for t in study.titles])
    setups = _names([(s.name, s.label) for s in study.setups])
    found: dict[Place, list[float]] = defaultdict(list)
    problems: list[Problem] = []
    for line, cells in rows[1:]:
        row = _Row(path, line, cells)
        try:
            place = row.name(title_at, "title", titles), row.name(setup_at, "setup", setups), row.visit(visit_at)
            found[place].append(row.number(value_at, column))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems[:MOST_PROBLEMS])
    return {place: fmean(values) for place, values in found.items()}


def _by_cell(values: Mapping[Place, float]) -> dict[tuple[str, str], float]:
    """Mean over visits, each visit one vote."""
    cells: dict[tuple[str, str], list[float]] = defaultdict(list)
    for (title, setup, _), value in values.items():
        cells[title, setup].append(value)
    return {cell: fmean(of_visits) for cell, of_visits in cells.items()}


@dataclass(frozen=True, slots=True)
class _Row:
    """A row with its place in the file; every reading of a cell raises InputError where it cannot be understood."""

    path: Path
    line: int
    cells: Sequence[str]

    def name(self, place: int, what: str, known: Mapping[str, str]) -> str:
        """The study's name of a title or setup, which may be written as its name or its label."""
        text = self._cell(place)
        found = known.get(folded(text))
        if found is None:
            like = nearest(folded(text), tuple(known))
            names = tuple(dict.fromkeys(known.values()))
            do = f"did you mean {known[like]}?" if like else f"the study has {listed(names[:8])}{' …' if len(names) > 8 else ''}"
            raise self._problem(f"the study has no {what} {plain(text, 60)!r}", do)
        return found

    def visit(self, place: int | None) -> int | None:
        """The number of the visit, None where the table has no such column."""
        if place is None:
            return None
        text = self._cell(place)
        if not text.isdecimal() or not 1 <= int(text) <= 1000:
            what = f"the visit is {plain(text, 40)!r}; it is a whole number from 1"
            raise self._problem(what, "number the visits as the logs are")
        return int(text)

    def number(self, place: int, column: _Column) -> float:
        """A number, with point or comma, with or without the sign of its unit."""
        text = self._cell(place)
        bare = text.removesuffix(column.sign).strip()
        try:
            value = float(bare if "." in bare else bare.replace(",", ".", 1))
        except ValueError:
            value = math.nan
        if value not in column.allowed:
            what = f"{column.heading} is {plain(text, 40)!r}; it is a number {column.allowed}"
            raise self._problem(what, "correct the cell, or remove the row")
        return value

    def _cell(self, place: int) -> str:
        return self.cells[place].strip() if place < len(self.cells) else ""

    def _problem(self, what: str, do: str) -> InputError:
        return InputError(Problem("input-row", what, f"{self.path}, line {self.line}", do))


def _names(known: Sequence[tuple[str, str]]) -> dict[str, str]:
    """Folded name or label -> name; names win over labels."""
    return {folded(label): name for name, label in known} | {folded(name): name for name, _ in known}


def _text(path: Path, key: str) -> str:
    do = f"check the path that [inputs] {key} names in study.toml"
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise InputError(Problem("input-unreadable", f"it cannot be opened: {why}", str(path), do)) from error
    if len(data) > LARGEST:
        raise InputError(Problem("input-unreadable", f"it is larger than {LARGEST // 1_000_000} MB", str(path), do))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        save = "save the table as text in UTF-8, for instance as CSV"
        raise InputError(Problem("input-unreadable", "it is not text in UTF-8", f"{path}, line {line}", save)) from error


def _rows(text: str, path: Path) -> Iterator[tuple[int, list[str]]]:
    """(line, cells) of the rows that are not blank; the headings first. They decide what parts the columns."""
    lines = text.splitlines()
    head = next((line for line in lines if line.strip()), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(DELIMITERS, key=head.count))
    rows = [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    if len(rows) < 2:
        what = f"it has {counted(len(rows), 'row')}; it needs a line of headings and a row for each title and setup"
        raise InputError(Problem("input-column", what, str(path), "fill in the table"))
    yield from rows


def _place(heads: Sequence[str], name: str, path: Path) -> int:
    count = [folded(head) for head in heads].count(name)
    if count == 1:
        return [folded(head) for head in heads].index(name)
    has = listed([plain(head, 40) for head in heads])
    what = f"it has {counted(count, 'column')} {name!r}" if count else f"it has no column {name!r}, but {has}"
    raise InputError(Problem("input-column", what, f"{path}, line 1", f"name one column {name}"))
