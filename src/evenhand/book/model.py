"""The nouns of the ledger: what is on record about a run, a standing, an event."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.frames.model import Stretch
from evenhand.screening.model import Standing
from evenhand.study.model import RunKey

__all__ = ["DerivedRun", "Event", "RunRecord", "StandingRecord", "Stretch"]


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
class DerivedRun:
    """What is rebuilt from an original and the scene's stretch: never the only copy of anything."""

    run_id: int
    frames: int
    seconds: float
