"""The nouns of the ledger: what is on record about a run, a standing, an event."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from evenhand.bench.model import Origin
from evenhand.frames.model import Reading, Recipe, Stretch
from evenhand.screening.model import Standing
from evenhand.study.model import RunKey

__all__ = [
    "Added",
    "Event",
    "NewResult",
    "NewRun",
    "Outcome",
    "PlanRecord",
    "ReadingRecord",
    "Result",
    "ResultRecord",
    "RunRecord",
    "SnapshotRecord",
    "StandingRecord",
    "Stretch",
    "StretchRecord",
    "TitleFactRecord",
    "VisitRecord",
]


@dataclass(frozen=True, slots=True)
class RunRecord:
    """One run as taken in.

    id : ledger row. sha256 : of the original log's bytes; source : path it came from, as given (text, never opened again).
    proven : False = the setup was not confirmed by a snapshot (*unproven*). started : ISO 8601 UTC where known, else None.
    account : what the reader understood. taken_at : ISO 8601 UTC. version : of Evenhand that took it in.
    """

    id: int
    key: RunKey
    sha256: str
    source: str
    account: str
    proven: bool
    started: str | None
    taken_at: str
    version: str


@dataclass(frozen=True, slots=True)
class ReadingRecord:
    """How the log of a run is read, and what came of it: enough to read it again and to know that nothing has changed.

    bad_rows : rows passed over. total_ns : sum of the durations. frames_sha256 : of the durations as little-endian int64.
    """

    id: int
    run_id: int
    recipe: Recipe
    skip_bad_rows: bool
    sampled: bool
    bad_rows: int
    frames: int
    total_ns: int
    frames_sha256: str
    account: str
    at: str
    version: str


@dataclass(frozen=True, slots=True, eq=False)
class NewRun:
    """A run to be taken in.

    log : the original's bytes. source : where it came from, for people. reading : what was understood of it; recipe : what
    reads it the same way again. proven, started : as in `RunRecord`.
    """

    key: RunKey
    log: bytes
    source: str
    reading: Reading
    recipe: Recipe
    skip_bad_rows: bool = False
    proven: bool = False
    started: str | None = None


@dataclass(frozen=True, slots=True)
class Result:
    """What a title printed of a run, or the score of another test; None where it did not say.

    average, low : frames per second, the low by a definition that nobody stated. score : in points of its own scale.
    pass_number : which of several passes of the test it was.
    """

    average: float | None = None
    low: float | None = None
    score: float | None = None
    pass_number: int | None = None


@dataclass(frozen=True, slots=True)
class NewResult:
    """A run to be taken in that has a result and no frames. line : of the table that it stands in, counted from 1."""

    key: RunKey
    result: Result
    line: int
    account: str


@dataclass(frozen=True, slots=True)
class ResultRecord:
    """The result of a run on record; line, account : as in `NewResult`."""

    run_id: int
    result: Result
    line: int
    account: str
    at: str
    version: str


class Outcome(StrEnum):
    """What became of a run that was to be taken in."""

    TAKEN = "taken in"
    ALREADY = "already there"
    REREAD = "already there, read anew"
    CLASH = "refused: another log has its place"


@dataclass(frozen=True, slots=True)
class Added:
    """What became of one `NewRun`.

    run : the run on record under that key (for a clash: the earlier one). twins : other runs with the very same bytes.
    """

    outcome: Outcome
    run: RunRecord
    twins: tuple[RunKey, ...] = ()


@dataclass(frozen=True, slots=True)
class StretchRecord:
    """A decision about which stretch of a scene counts. The latest row counts; `stretch` says who decided and why."""

    id: int
    stretch: Stretch
    at: str
    version: str


@dataclass(frozen=True, slots=True)
class StandingRecord:
    """A decision about a run. The latest row counts; earlier ones stay. by : a person's name or "rule: <slug>"."""

    run_id: int
    standing: Standing
    by: str
    why: str
    at: str
    version: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the book, for `explain` and the write-up's list of decisions."""

    id: int
    at: str
    version: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class SnapshotRecord:
    """What a PC said of itself. answers : raw, as JSON. typed : facts that study.toml stated then. taken_at : by the PC's clock.

    machine : tells machines apart. source : "this PC", or the file it came from.
    """

    id: int
    sha256: str
    answers: str
    typed: Mapping[str, str]
    taken_at: str
    machine: str
    source: str
    at: str
    version: str


@dataclass(frozen=True, slots=True)
class VisitRecord:
    """One row about a visit; the latest of (setup, visit) counts. snapshot : row of the snapshot, None where there is none.

    why : reason for which it keeps a label that a snapshot contradicts. began : ISO 8601; a later one begins the visit anew.
    """

    id: int
    setup: str
    visit: int
    snapshot: int | None
    proven: bool
    why: str
    tester: str
    began: str
    at: str
    version: str


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """An order of visits as it was planned. text : the plan as JSON. why : it was planned anew, empty in the first."""

    id: int
    seed: int
    text: str
    why: str
    at: str
    version: str


@dataclass(frozen=True, slots=True)
class TitleFactRecord:
    """What a title was at a moment. setup, visit : None where it was found outside a visit. fact : "build", "settings" ..."""

    id: int
    title: str
    setup: str | None
    visit: int | None
    moment: str
    fact: str
    value: str
    origin: Origin
    source: str
    at: str
    version: str
