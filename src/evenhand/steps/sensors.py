"""Take in sensor logs: which column is what is said once, and each log is lined up with the runs that were recorded meanwhile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from evenhand.book.book import Book
from evenhand.book.sensors import SensorRun
from evenhand.errors import LogError, Problem
from evenhand.frames.lined_up import find_rise
from evenhand.frames.load import load_bytes
from evenhand.frames.model import Sensor, SensorMapping
from evenhand.frames.sensors import Clock, SensorLog, read_sensors, sensor_shape
from evenhand.steps.addresses import find_logs
from evenhand.steps.measured import MadeRun, made_runs
from evenhand.steps.standing import find_run
from evenhand.study.read import read_study
from evenhand.units import number
from evenhand.wording import counted, listed
from evenhand.writeup.model import Section, Table

#: A file is finished that long, at most, after its last row.
FILE_S: Final = 2.0
DAY_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one sensor log. runs : those that lie in it; new : how many of them were not lined up so before."""

    path: Path
    log: SensorLog
    runs: tuple[tuple[MadeRun, SensorRun], ...]
    new: int


def take_sensors(
    folder: Path, logs: Sequence[str | Path], time: str | None, columns: Mapping[str, str], run: str | None = None
) -> tuple[Section, ...]:
    """Take sensor logs into the study in `folder`; returns the account.

    time, columns : which column is what, by the value of its `Sensor`; without them what was said of that layout before. run :
    the log is of that run alone.
    Raises UsageError, StudyError, BookError; LogError with every log that cannot be read or lined up: the others are taken in.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        only = find_run(book, run) if run else None
        runs = [r for r in made_runs(book, study) if only is None or r.record.id == only.id]
        taken: list[Taken] = []
        problems: list[Problem] = []
        for path in find_logs(logs):
            try:
                taken.append(_take(book, path, runs, time, columns, alone=only is not None))
            except LogError as error:
                problems += error.problems
    if problems:
        raise LogError(problems)
    return (_account(taken),)


def _take(book: Book, path: Path, runs: Sequence[MadeRun], time: str | None, columns: Mapping[str, str], *, alone: bool) -> Taken:
    data = load_bytes(path)
    mapping = _mapping(book, data, path, time, columns)
    log = read_sensors(data, str(path), mapping)
    ended = path.stat().st_mtime
    found = [(run, place) for run in runs if (place := _place(log, run, ended, alone=alone)) is not None]
    if not found:
        raise LogError(_nowhere(log, path, alone=alone))
    sha256 = book.sensors.keep(data)
    book.sensors.remember(mapping)
    placed = [
        (run, SensorRun(run.record.id, sha256, str(path), mapping.shape, begins, unsure, how))
        for run, (begins, unsure, how) in found
    ]
    return Taken(path, log, tuple(placed), book.sensors.line_up([one for _, one in placed], len(data)))


def _mapping(book: Book, data: bytes, path: Path, time: str | None, columns: Mapping[str, str]) -> SensorMapping:
    shape = sensor_shape(data, str(path))
    known = book.sensors.mappings().get(shape)
    if columns and (time is not None or known is not None):
        return SensorMapping(
            shape, time or (known.time if known else ""), {Sensor(sensor): column for sensor, column in columns.items()}
        )
    if known is None or time is not None:
        what = "which column is what was not said of logs of this layout"
        do = 'say it once, for instance --time Time --power "Package power" --temperature 3'
        raise LogError(Problem("sensors-unmapped", what, str(path), do))
    return known


def _place(log: SensorLog, run: MadeRun, ended: float, *, alone: bool) -> tuple[float, float, str] | None:
    """(when the recording began, in the log's own times; how far that may be off; by what), None where it lies not in the log.

    By clock times where both have them. A log that counts from its own start is lined up by a rise where it is of one run
    alone, else by the time of its file.
    """
    started = None if run.record.started is None else datetime.fromisoformat(run.record.started).timestamp()
    lead, length = run.counted.lead_s, run.counted.seconds
    if log.clock is Clock.DATE and started is not None:
        return _within(log, started, lead, length, log.step, "clock times")
    if log.clock is Clock.DAY and started is not None:
        return _within(log, started - _midnight(log, ended), lead, length, log.step, "time of day and the file's date")
    rise = find_rise(log, length) if alone else None
    if rise is not None:
        return _within(log, rise.at - lead, lead, length, rise.unsure_s, f"the rise of {rise.by.replace('-', ' ')}")
    if log.clock is Clock.ELAPSED and started is not None:
        began = started - (ended - float(log.seconds[-1]))
        return _within(log, began, lead, length, log.step + FILE_S, "the file's time")
    return None


def _within(
    log: SensorLog, begins: float, lead: float, length: float, unsure: float, how: str
) -> tuple[float, float, str] | None:
    inside = float(log.seconds[0]) <= begins + lead and begins + lead + length <= float(log.seconds[-1])
    return (begins, unsure, how) if inside else None


def _midnight(log: SensorLog, ended: float) -> float:
    """The midnight, seconds since 1970, from which a log's times of day are counted: of the day its last row was written."""
    day = datetime.fromtimestamp(ended).replace(hour=0, minute=0, second=0, microsecond=0).timestamp()
    late = day + float(log.seconds[-1]) - ended
    return day - DAY_S * round(late / DAY_S)


def _nowhere(log: SensorLog, path: Path, *, alone: bool) -> Problem:
    what = f"no run of the study lies in its {number(float(log.seconds[-1] - log.seconds[0]), 0)} s by {log.clock}"
    if alone:
        what = "the run cannot be lined up with it: neither by clock times, nor by a clear rise of load or power"
        return Problem("sensors-nowhere", what, str(path), "log time with its date, or begin the log before the scene")
    do = "take the frame logs in first; for a log of one run without clock times name it: --run RUN"
    return Problem("sensors-nowhere", what, str(path), do)


def _account(taken: Sequence[Taken]) -> Section:
    runs = sum(len(one.runs) for one in taken)
    rows = [
        (
            one.path.name,
            listed([s.replace("-", " ") for s in one.log.values]),
            f"{counted(len(one.runs), 'run')}{'' if one.new else ', there already'}",
            listed(sorted({f"{p.how} (± {number(p.unsure_s, 1)} s)" for _, p in one.runs})),
        )
        for one in taken
    ]
    table = Table(("log", "columns", "runs in it", "lined up by"), tuple(rows), (False,) * 4)
    return Section("sensors", f"{counted(len(taken), 'sensor log')} taken in, of {counted(runs, 'run')}", tables=(table,))
