"""Read a sensor log: power, temperature, clock and loads over time, in columns that a person named once.

Which column is what cannot be told from numbers (watts and degrees look alike), so it is said, and remembered by the layout.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem
from evenhand.frames.cells import TIMES, Kind
from evenhand.frames.columns import parse, texts
from evenhand.frames.layout import Found, layouts
from evenhand.frames.load import unpack
from evenhand.frames.model import Floats, Sensor, SensorMapping
from evenhand.frames.text import decode
from evenhand.wording import listed, plain

FEWEST: Final = 3
#: Numbers between these are seconds since 1970 (2001 to 2033), not seconds since a log began.
SINCE_1970: Final = (1e9, 2e9)
_ZONE: Final = re.compile(r"(?:Z|[+-]\d{2}:?\d{2})$")


class Clock(StrEnum):
    """What the times of a sensor log are."""

    DATE = "date and time"
    DAY = "time of day"
    ELAPSED = "time since the log began"


@dataclass(frozen=True, slots=True, eq=False)
class SensorLog:
    """What sensors said. seconds (n,) : rising; since 1970, since midnight, or since the log began, as `clock` says.

    values : each (n,), NaN where there is no number; watts, degrees Celsius, megahertz, per cent.
    """

    clock: Clock
    seconds: Floats
    values: Mapping[Sensor, Floats]

    @property
    def step(self) -> float:
        """The usual time from one row to the next, seconds."""
        return float(np.median(np.diff(self.seconds)))


def sensor_shape(data: bytes, name: str) -> str:
    """The layout of a sensor log, under which its mapping is remembered. Raises LogError where it is no table."""
    return _found(data, name)[1].layout.shape


def read_sensors(data: bytes, name: str, mapping: SensorMapping) -> SensorLog:
    """A sensor log by a mapping. Raises LogError: a column is not there or holds no numbers, times go back, too few rows."""
    text, found = _found(data, name)
    time_at = _place(found, mapping.time, name)
    places = {sensor: _place(found, column, name) for sensor, column in mapping.columns.items()}
    if found.kinds[time_at] not in TIMES:
        raise _no_column(found, mapping.time, name, "holds no times")
    for sensor, column in places.items():
        if found.kinds[column] is not Kind.NUMBER or column == time_at:
            raise _no_column(found, mapping.columns[sensor], name, "holds no numbers")
    columns = parse(text, found, sorted({time_at, *places.values()}), gaps=True)
    clock, seconds = _times(text, found, time_at, columns.values[time_at])
    there = ~np.isnan(seconds)
    values = {sensor: np.asarray(columns.values[at], dtype=np.float64)[there] for sensor, at in places.items()}
    log = SensorLog(clock, seconds[there], values)
    if log.seconds.size < FEWEST or not (np.diff(log.seconds) >= 0).all() or log.step <= 0:
        what = f"the times in column {mapping.time} do not go on from row to row, or there are fewer than {FEWEST}"
        raise LogError(Problem("log-no-column", what, name, "name the column of times with --time"))
    return log


def _found(data: bytes, name: str) -> tuple[bytes, Found]:
    text, encoding = decode(unpack(data, name), name)
    found = layouts(text, encoding)
    if not found:
        what = "no two rows have the same form: this is no table with one row a moment"
        raise LogError(Problem("log-no-table", what, name, "give the log of the sensors, as text"))
    return text, found[0]


def _place(found: Found, column: str, name: str) -> int:
    """A column by its name, or its number counted from 1."""
    header = found.layout.header or ()
    if header.count(column) == 1:
        return header.index(column)
    if column.isdecimal() and 1 <= int(column) <= found.layout.columns:
        return int(column) - 1
    raise _no_column(found, column, name, "is there more than once" if column in header else "is not there")


def _no_column(found: Found, column: str, name: str, why: str) -> LogError:
    header = found.layout.header
    has = listed([plain(head, 40) for head in header]) if header else f"{found.layout.columns} columns without names"
    do = f"name one of them, or its number from 1: the log has {has}"
    return LogError(Problem("log-no-column", f"the column {plain(column, 60)!r} {why}", name, do))


def _times(text: bytes, found: Found, column: int, values: np.ndarray[tuple[int], np.dtype[np.generic]]) -> tuple[Clock, Floats]:
    """Times in seconds. A date without a zone is this PC's time, as recorders write it."""
    kind, numbers = found.kinds[column], np.asarray(values, dtype=np.float64)
    if kind is Kind.NUMBER:
        return (Clock.DATE if SINCE_1970[0] < numbers[0] < SINCE_1970[1] else Clock.ELAPSED), numbers
    seconds = np.asarray(numbers / 1e9)
    if kind is Kind.CLOCK:
        return Clock.DAY, seconds
    if not _ZONE.search(texts(text, found, column, 1)[0]):
        local = datetime.fromtimestamp(float(seconds[0]), UTC).replace(tzinfo=None)
        seconds = seconds + (local.timestamp() - float(seconds[0]))
    return Clock.DATE, seconds
