"""The nouns of a frame log: frames, how they were read, which stretch counts.

Durations are whole nanoseconds (int64), so nothing is lost between log, book and measure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

Nanoseconds: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """The durations of the frames of one recording, in order; shape (n,), n >= 1, all > 0, nanoseconds."""

    ns: Nanoseconds

    def __len__(self) -> int:
        return int(self.ns.size)

    @property
    def ms(self) -> Floats:
        """Durations in milliseconds, shape (n,)."""
        return self.ns / 1e6

    @property
    def seconds(self) -> float:
        """Total time."""
        return float(self.ns.sum() / 1e9)

    @property
    def ends_s(self) -> Floats:
        """Seconds from the first present to the end of each frame, shape (n,)."""
        return np.cumsum(self.ns) / 1e9

    def cut(self, first: int, last: int) -> Frames:
        """Frames first..last-1 (Python slice), as a view."""
        return Frames(self.ns[first:last])


class Role(StrEnum):
    """What a numeric column that frames are read from is."""

    ELAPSED = "elapsed"
    DURATION = "duration"
    RATE = "rate"


class Unit(StrEnum):
    """Unit of a time column; HUNDRED_NS is the 100 ns tick."""

    S = "s"
    MS = "ms"
    US = "us"
    HUNDRED_NS = "100ns"
    NS = "ns"
    PER_S = "per_s"
    CLOCK = "clock"  # time of day, hh:mm:ss.fff


@dataclass(frozen=True, slots=True)
class Layout:
    """How the text is laid out. `header` is None where there is none; `first_row`, `last_row` are 1-based line
    numbers of the data.
    """

    encoding: str
    delimiter: str  # "" = a lone column, " " = runs of blanks
    decimal: str
    preamble: tuple[str, ...]
    header: tuple[str, ...] | None
    columns: int
    first_row: int
    last_row: int
    footer: tuple[str, ...] = ()

    @property
    def shape(self) -> str:
        """Key under which a recipe is remembered: the same for logs of one recorder, whatever their values."""
        names = "|".join(self.header) if self.header else "-"
        return f"{self.delimiter!r} {self.decimal!r} {self.columns} {names}"


@dataclass(frozen=True, slots=True)
class Recipe:
    """What settles an unclear log; kept in the study, keyed by `Layout.shape`.

    column : header name, or 1-based number as text. where : (column, value) filter for logs of several programs.
    interval : "present" | "shown" | "unstated", what the chosen column means.
    """

    shape: str
    column: str
    role: Role
    unit: Unit
    decimal: str | None = None
    delimiter: str | None = None
    where: tuple[str, str] | None = None
    interval: str = "unstated"


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that is not a frame; line and column are 1-based."""

    line: int
    column: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """One plausible reading of an unclear log, with what it would mean."""

    column: str
    role: Role
    unit: Unit
    score: float
    why: str
    first_ms: tuple[float, ...]
    average_rate: float
    seconds: float
    trace: str  # a picture of the pace over the log in block characters
    delimiter: str | None = None  # said where the layout is in doubt too
    decimal: str | None = None
    sampled: bool = False  # one row a polling period: an average and nothing else

    def flags(self) -> str:
        """The command-line flags that choose this reading, quoted so that every shell takes them."""
        said = [f"--column {quoted(self.column)}", f"--role {self.role}", f"--unit {self.unit}"]
        if self.delimiter is not None:
            said.append(f"--delimiter {SAID_DELIMITERS.get(self.delimiter) or quoted(self.delimiter)}")
        if self.decimal is not None:
            said.append(f"--decimal {quoted(self.decimal)}")
        return " ".join(said)


#: Words for delimiters that a command line cannot carry.
SAID_DELIMITERS: Final = {"\t": "tab", " ": "blank", "": "none"}


def quoted(text: str) -> str:
    """A value for a command line: in double quotes where it is more than letters, digits and a few marks."""
    return text if text and all(c.isalnum() or c in "_-.:" for c in text) else '"' + text.replace('"', '\\"') + '"'


@dataclass(frozen=True, slots=True)
class Reading:
    """A log as understood. `sampled` logs (one row per polling interval) bear an average and nothing else.

    account : one line for people, what was understood. labels : `key: value` pairs of the preamble. lost_rows : rows that the log
    lacks by its own counter (frames that nobody can know).
    """

    frames: Frames
    layout: Layout
    column: str
    role: Role
    unit: Unit
    account: str
    sampled: bool = False
    bad_rows: tuple[BadRow, ...] = ()
    labels: dict[str, str] = field(default_factory=dict)
    where: tuple[str, str] | None = None
    lost_rows: int = 0


@dataclass(frozen=True, slots=True)
class Start:
    """Where the scene's own frames begin in one log: index of the first frame that counts, and why."""

    frame: int
    seconds: float  # time from the first present to there
    loading: bool
    transition: bool
    why: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """The stretch of a scene that counts: fixed once per scene, a decision in the ledger.

    The start of each log is found by `start_rule`, the same for all setups; then `skip` (frames or seconds) is passed over
    and `length` counted. `reference` is the pace profile (share of the median pace, shape (bins,)) of the runs from which the
    stretch was proposed, kept with the decision, so that lining up never depends on later runs.
    """

    scene: str  # "title/scene"
    pace: str  # study.model.Pace
    start_rule: str
    skip: float
    length: float  # frames (pace "frames") or seconds (pace "clock"); 0 = to the end
    reference: tuple[float, ...] = ()
    decided_by: str = "evenhand"
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A recording with its stretch applied. `counted` are the frames that count; `missing` is the share of the stretch
    that the log lacks.
    """

    counted: Frames
    first: int
    last: int
    start: Start
    lag_s: float
    missing: float


class Sensor(StrEnum):
    """What a column of a sensor log is."""

    POWER = "power"  # watts
    TEMPERATURE = "temperature"  # degrees Celsius
    CLOCK = "clock"  # megahertz
    LOAD = "load"  # per cent of the time, of the processor
    GRAPHICS_LOAD = "graphics-load"  # per cent of the time, of the graphics card


@dataclass(frozen=True, slots=True)
class SensorMapping:
    """Which column is what; each by its name, or its number counted from 1. shape : of the layout that it is for."""

    shape: str
    time: str
    columns: Mapping[Sensor, str]
