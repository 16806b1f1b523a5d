"""What sensors said of runs: from the sensor logs of a book to the runs, to power and load by setup, to what stands out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median
from typing import Final

from evenhand.book.book import Book
from evenhand.frames.sensors import SensorLog, read_sensors
from evenhand.measures.energy import run_sensors
from evenhand.measures.model import RunSensors
from evenhand.steps.runs import StudyRun
from evenhand.study.model import Inputs, RunKey, Study
from evenhand.units import number

#: A run's load is this much above that of the cell's other runs, with a lower average: something else was running.
BUSIER: Final = 10.0
FEWEST_RUNS: Final = 3

Visit = tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class Counted:
    """The frames of a run that count: `seconds` of them, `frames` in number, `lead_s` after its recording began."""

    run_id: int
    lead_s: float
    seconds: float
    frames: int


def sensors_of(book: Book, runs: Iterable[Counted]) -> dict[int, RunSensors]:
    """What sensors say of each run that has a sensor log, by the run's number. Raises BookError where a log is gone."""
    places, mappings = book.sensors.by_run(), book.sensors.mappings()
    logs: dict[str, SensorLog] = {}
    found = {}
    for run in (run for run in runs if run.run_id in places):
        place = places[run.run_id]
        if place.sha256 not in logs:
            logs[place.sha256] = read_sensors(book.original(place.sha256), place.source, mappings[place.shape])
        begin = place.begins + run.lead_s
        log, end = logs[place.sha256], begin + run.seconds
        found[run.run_id] = run_sensors(log, begin, end, run.frames, place.how, place.unsure_s)
    return found


def with_sensors(inputs: Inputs, study: Study, runs: Sequence[StudyRun]) -> Inputs:
    """The inputs, with power and graphics load from the runs that count where the study names no table of them."""
    power = _by_visit(runs, {r.key: r.sensors.power for r in runs if r.sensors})
    load = _by_visit(runs, {r.key: r.sensors.graphics_load for r in runs if r.sensors})
    if "power" not in study.inputs and power:
        inputs = replace(inputs, power=_by_cell(power), power_visits=power)
    return replace(inputs, graphics_load=_by_cell(load)) if "graphics_load" not in study.inputs and load else inputs


def standing_out(runs: Sequence[StudyRun]) -> dict[RunKey, tuple[str, ...]]:
    """Run -> what its sensors show that may have slowed it, in words."""
    cells: dict[tuple[str, str, str], list[StudyRun]] = defaultdict(list)
    for run in runs:
        if run.sensors:
            cells[run.key.title, run.key.scene, run.key.setup].append(run)
    found = {}
    for members in cells.values():
        for run in members:
            said = [*_throttled(run), *_busy(run, [other for other in members if other is not run])]
            if said:
                found[run.key] = tuple(said)
    return found


def _throttled(run: StudyRun) -> Iterable[str]:
    if run.sensors and run.sensors.throttled is not None:
        fall = number(100 * run.sensors.throttled, 0)
        yield f"the clock is {fall} % lower while the temperature is highest, and the load stays: held back by heat"


def _busy(run: StudyRun, others: Sequence[StudyRun]) -> Iterable[str]:
    loads = [r.sensors.load for r in others if r.sensors and r.sensors.load is not None]
    own = run.sensors.load if run.sensors else None
    if own is None or len(loads) < FEWEST_RUNS - 1:
        return
    usual = median(loads)
    slower = run.measures.values["average"] < median(r.measures.values["average"] for r in others)
    if slower and own >= usual + BUSIER:
        others_had = f"{number(usual, 0)} % in the other runs"
        yield f"load {number(own, 0)} %, {others_had}, and slower than they are: something else was running"


def _by_visit(runs: Sequence[StudyRun], values: Mapping[RunKey, float | None]) -> dict[Visit, float]:
    found: dict[Visit, list[float]] = defaultdict(list)
    for run in (run for run in runs if run.counts):
        value = values.get(run.key)
        if value is not None:
            found[run.key.title, run.key.setup, run.key.visit].append(value)
    return {visit: fmean(of_runs) for visit, of_runs in found.items()}


def _by_cell(visits: Mapping[Visit, float]) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], list[float]] = defaultdict(list)
    for (title, setup, _), value in visits.items():
        found[title, setup].append(value)
    return {cell: fmean(of_visits) for cell, of_visits in found.items()}
