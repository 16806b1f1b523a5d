"""Take in results that came without frames: a title's own printed result, or the score of another test; typed in or as a table.

What is typed in is kept as a table of one row, so that every result has an original that it can be read from again.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from evenhand.book.book import Book
from evenhand.book.model import Added, NewResult, Outcome, Result
from evenhand.errors import InputError, Problem, UsageError
from evenhand.frames.text import decode
from evenhand.steps.figures import decimal_mark, figure
from evenhand.steps.sealing import seal_first
from evenhand.steps.tables import MOST_PROBLEMS, Row, Table, by_name, load, parse
from evenhand.steps.take_report import Refusal, TakeReport
from evenhand.study.model import RunKey, Study, Title
from evenhand.study.read import read_study
from evenhand.wording import listed, plain

#: Columns that say which run a row is, and those that say what came of it.
PLACES: Final = ("title", "scene", "setup", "visit", "run", "pass")
FIGURES: Final = ("average", "low", "score")
UNSEEN: Final = "not screened by frames"
_TYPED: Final = "typed in"


@dataclass(frozen=True, slots=True)
class Said:
    """What options said of a result, as text; None = not said. For a table: what it has no column for."""

    title: str | None = None
    scene: str | None = None
    setup: str | None = None
    visit: str | None = None
    run: str | None = None
    pass_number: str | None = None
    average: str | None = None
    low: str | None = None
    score: str | None = None

    def by_heading(self) -> dict[str, str]:
        """Heading -> text, of what was said."""
        given = {
            **{"title": self.title, "scene": self.scene, "setup": self.setup, "visit": self.visit, "run": self.run},
            **{"pass": self.pass_number, "average": self.average, "low": self.low, "score": self.score},
        }
        return {heading: text for heading, text in given.items() if text is not None}


def take_results(folder: Path, table: Path | None, said: Said) -> TakeReport:
    """Take the results of a table into the study in `folder`, or the one that was typed in (table = None).

    Raises UsageError, StudyError, BookError; InputError with every row of the table that cannot be understood: then nothing is
    taken in.
    """
    given = said.by_heading()
    if table is None:
        _check_typed(given)
        data, path = _one_row(given), Path(_TYPED)
    else:
        if beside := [name for name in ("pass", *FIGURES) if name in given]:
            what = f"a table was named, and beside it {listed([f'--{name}' for name in beside])}"
            raise UsageError(Problem("option-unclear", what, "result", "give the table or the numbers"))
        data, path = load(table, "check the path; save a spreadsheet as CSV first"), table
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        new = read_results(data, path, study, {} if table is None else given)
        if table is None and "run" not in given and "pass" not in given:
            new = tuple(replace(one, key=replace(one.key, run=book.next_run(one.key))) for one in new)
        seal_first(book, study, len(new))
        source = _TYPED if table is None else str(table)
        return _report(path, new, book.results.add(data, source, new))


def read_results(data: bytes, path: Path, study: Study, given: Mapping[str, str]) -> tuple[NewResult, ...]:
    """The runs that a table has results of. given : heading -> text, for columns that it does not have.

    Rows without any result are plans and left out. Without a column for it, a run has the number of its pass, or else its
    place among those of its scene, setup and visit. Raises InputError.
    """
    text, _ = decode(data, str(path))
    found = _filled(parse(text.decode(), path, "run"), given)
    reader = _Reader(found, study)
    new: list[NewResult] = []
    problems: list[Problem] = []
    for row in found.each():
        try:
            result = reader.one(row)
        except InputError as error:
            problems += error.problems
        else:
            new += [result] if result else []
    if problems:
        raise InputError(problems[:MOST_PROBLEMS])
    if not new:
        raise InputError(Problem("input-column", "no row of it has a result", str(path), "fill in average, low or score"))
    return tuple(new)


def result_at(data: bytes, path: Path, line: int) -> Result | None:
    """What an original says in a line, read again; None where there is no such row. Raises InputError."""
    text, _ = decode(data, str(path))
    found = parse(text.decode(), path, "run")
    mark = _mark(found)
    row = next((row for row in found.each() if row.line == line), None)
    return None if row is None else _result(found, row, mark)


def _check_typed(given: Mapping[str, str]) -> None:
    missing = [f"--{name}" for name in ("title", "setup", "visit") if name not in given]
    if missing:
        what = f"which run it is was not said: {listed(missing)}"
        do = 'write for example --title night-ferry --setup lean --visit 1 --average "143.2"'
        raise UsageError(Problem("which-run", what, "result", do))
    if not any(name in given for name in FIGURES):
        do = f"give {listed([f'--{name}' for name in FIGURES], 'or')}"
        raise UsageError(Problem("option-unclear", "neither a table nor a result was given", "result", do))


def _one_row(given: Mapping[str, str]) -> bytes:
    """A result that was typed in, as a table of one row."""
    page = io.StringIO(newline="")
    csv.writer(page, lineterminator="\n").writerows([tuple(given), tuple(given.values())])
    return page.getvalue().encode("utf-8")


def _filled(table: Table, given: Mapping[str, str]) -> Table:
    """The table with a column for what was said beside it. Raises InputError where it has such a column itself."""
    for name in given:
        if table.find(name) is not None:
            what = f"it has a column {name!r}, and --{name} was given too"
            raise InputError(Problem("input-column", what, str(table.path), f"leave out --{name}, or rename the column"))
    wide = len(table.heads)
    rows = tuple((line, (*cells[:wide], *[""] * (wide - len(cells)), *given.values())) for line, cells in table.rows)
    return Table(table.path, (*table.heads, *given), rows)


class _Reader:
    """Rows of a table to results, by the names of a study."""

    def __init__(self, table: Table, study: Study) -> None:
        self._table, self._study = table, study
        self._at = {name: table.find(name) for name in PLACES}
        for name in ("title", "setup", "visit"):
            self._at[name] = table.place(name)
        if not any(table.find(name) is not None for name in FIGURES):
            table.place("average")
        self._titles = by_name([(t.name, t.label) for t in study.titles])
        self._setups = by_name([(s.name, s.label) for s in study.setups])
        self._mark = _mark(table)
        self._seen: Counter[RunKey] = Counter()

    def one(self, row: Row) -> NewResult | None:
        """A row's result; None where it has none."""
        found = _result(self._table, row, self._mark)
        if found == Result(pass_number=found.pass_number):
            return None
        title = self._study.title(row.name(self._at["title"] or 0, "title", self._titles))
        setup = row.name(self._at["setup"] or 0, "setup", self._setups)
        visit = row.whole(self._at["visit"] or 0, "visit")
        if found.score is not None and title.score is None:
            what = f"there is a score of {title.label}, and study.toml does not say which way it is good"
            raise row.problem(what, f'write score = "higher is better" under [[title]] {title.name}, or "lower is better"')
        place = RunKey(title.name, self._scene(row, title), setup, visit, 1)
        self._seen[place] += 1
        run = self._run(row, found.pass_number or self._seen[place])
        return NewResult(replace(place, run=run), found, row.line, _account(found))

    def _scene(self, row: Row, title: Title) -> str:
        at = self._at["scene"]
        if at is not None and row.cell(at):
            return row.name(at, "scene", by_name([(s.name, s.label) for s in title.scenes]))
        if len(title.scenes) > 1:
            names = listed([s.name for s in title.scenes], "or")
            raise row.problem(f"{title.label} has several scenes, and the row names none", f"name it: {names}")
        return title.scenes[0].name

    def _run(self, row: Row, otherwise: int) -> int:
        at = self._at["run"]
        return row.whole(at, "run") if at is not None and row.cell(at) else otherwise


def _mark(table: Table) -> str | None:
    """The decimal mark of a table's results."""
    at = [place for name in FIGURES if (place := table.find(name)) is not None]
    return decimal_mark(row.cell(place) for row in table.each() for place in at)


def _result(table: Table, row: Row, mark: str | None) -> Result:
    found = {name: _number(table, row, name, mark) for name in FIGURES}
    at = table.find("pass")
    return Result(**found, pass_number=row.whole(at, "pass") if at is not None and row.cell(at) else None)


def _number(table: Table, row: Row, name: str, mark: str | None) -> float | None:
    """A result; None where the cell is empty."""
    at = table.find(name)
    text = "" if at is None else row.cell(at)
    if not text:
        return None
    value = figure(text, mark)
    if value is None or not 0 < value < 1e12:
        what = f"{name} is {plain(text, 40)!r}, which is no number above 0, or could be two"
        raise row.problem(what, "write it with a decimal point and without a mark for thousands, or remove the row")
    return value


def _account(found: Result) -> str:
    """What was understood, for people."""
    told = [f"{name} {value:g}" for name, value in (("average", found.average), ("low", found.low)) if value is not None]
    rates = [f"{listed(told)} frames per second"] if told else []
    score = [f"score {found.score:g}"] if found.score is not None else []
    number = [f"pass {found.pass_number}"] if found.pass_number is not None else []
    return f"a result without frames: {', '.join([*rates, *score, *number])}; {UNSEEN}"


def _report(path: Path, new: Sequence[NewResult], added: Sequence[Added]) -> TakeReport:
    """What became of every result."""
    refused = []
    for one, what in zip(new, added, strict=True):
        if what.outcome is Outcome.CLASH:
            said = f"{one.key} has another log or result already (from {what.run.source})"
            do = "give this one its own run number; if it replaces a bad run, set that one aside"
            refused.append(Refusal(path, (Problem("run-taken", said, f"{path}, line {one.line}", do),)))
    return TakeReport(
        taken=tuple(a for a in added if a.outcome is Outcome.TAKEN),
        already=tuple(a for a in added if a.outcome is Outcome.ALREADY),
        refused=tuple(refused),
    )
