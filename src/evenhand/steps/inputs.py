"""Tables of what was measured beside the frames: power drawn, load of the graphics card.

A table has a row for each title and setup, or each of their visits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from statistics import fmean
from typing import Final

from evenhand.errors import InputError, Problem
from evenhand.steps.tables import MOST_PROBLEMS, Column, by_name, load, parse, utf8
from evenhand.study.keys import Range
from evenhand.study.model import Inputs, Study

Place = tuple[str, str, int | None]

POWER: Final = Column("watts", Range(0, 10_000, open_low=True), "W")
GRAPHICS_LOAD: Final = Column("graphics_load", Range(0, 100), "%")


def read_inputs(folder: Path, study: Study) -> Inputs:
    """The tables that the study names, relative to its folder; empty where it names none.

    Rows of the same title, setup and visit are averaged. Raises InputError with every problem of a table, each with its line.
    """
    power = _table(folder, study, "power", POWER)
    load = _table(folder, study, "graphics_load", GRAPHICS_LOAD)
    by_visit = {(title, setup, visit): value for (title, setup, visit), value in power.items() if visit is not None}
    return Inputs(_by_cell(power), by_visit, _by_cell(load))


def _table(folder: Path, study: Study, key: str, column: Column) -> dict[Place, float]:
    if key not in study.inputs:
        return {}
    path = folder / study.inputs[key]
    table = parse(utf8(load(path, f"check the path that [inputs] {key} names in study.toml"), path), path)
    title_at, setup_at, value_at = (table.place(name) for name in ("title", "setup", column.heading))
    visit_at = table.find("visit")
    titles = by_name([(t.name, t.label) for t in study.titles])
    setups = by_name([(s.name, s.label) for s in study.setups])
    found: dict[Place, list[float]] = defaultdict(list)
    problems: list[Problem] = []
    for row in table.each():
        try:
            visit = None if visit_at is None else row.whole(visit_at, "visit")
            place = row.name(title_at, "title", titles), row.name(setup_at, "setup", setups), visit
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
