"""The nouns of a plan: in which order the PC is visited, what is recorded when, how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class PlannedScene:
    """A scene in a visit. runs : recordings one after the other, of which the first `warmup_runs` never count."""

    title: str
    scene: str
    runs: int
    warmup_runs: int
    minutes: float


@dataclass(frozen=True, slots=True)
class PlannedVisit:
    """One visit.

    order : place in the whole plan, from 1. round : of its part, from 1. visit : its number for this setup, from 1 (as in
    `RunKey`); all setups of a round have the same. minutes : applying and settling included. again : the PC is in this setup
    already and it must be applied anew all the same. part : which part of the titles, from 1. day : of bench work, from 1.
    """

    order: int
    round: int
    setup: str
    visit: int
    scenes: tuple[PlannedScene, ...]
    minutes: float
    again: bool = False
    part: int = 1
    day: int = 1


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole order. The same study and seed give the same plan.

    day_minutes : bench work a day that the days were filled with, None where no such limit was stated. notes : what a person
    should know of it.
    """

    seed: int
    visits: tuple[PlannedVisit, ...]
    day_minutes: float | None = None
    parts: int = 1
    notes: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Of all visits."""
        return sum(v.minutes for v in self.visits)

    @property
    def days(self) -> int:
        """Days of bench work."""
        return max((v.day for v in self.visits), default=0)

    @property
    def rounds(self) -> int:
        """Number of rounds of each part."""
        return max((v.round for v in self.visits), default=0)


@dataclass(frozen=True, slots=True)
class DatedVisit:
    """A planned visit with its time, of no particular zone: that of the wall clock beside the bench."""

    visit: PlannedVisit
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True)
class Deadline:
    """What of a plan is done by the end of a day. visits : all of them. rounds : whole ones, of all titles, from the first on.

    minutes : of bench work at hand until then. ends : when the whole plan would be done.
    """

    last: date
    visits: int
    rounds: int
    minutes: float
    ends: datetime


@dataclass(frozen=True, slots=True)
class Forgotten:
    """Something that bench work takes and people forget. minutes, gb : in all, where the study states them; counted : whether
    the plan's hours have them.
    """

    key: str
    sentence: str
    minutes: float | None = None
    gb: float | None = None
    counted: bool = False
