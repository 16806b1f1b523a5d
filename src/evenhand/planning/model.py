"""The nouns of a plan: in which order the PC is visited, what is recorded when, how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from evenhand.study.model import Apply, RunKey


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


@dataclass(frozen=True, slots=True)
class RecordedRun:
    """A run in the book. kept : it is not set aside and not to be redone."""

    key: RunKey
    kept: bool = True


@dataclass(frozen=True, slots=True)
class SceneLeft:
    """A scene that lacks `runs` recordings in a visit; the next one is number `next_run`. of : recordings planned in the visit.

    again : it was lost in an earlier visit and comes back here.
    """

    title: str
    scene: str
    runs: int
    of: int
    next_run: int
    practice: int = 0
    again: bool = False


@dataclass(frozen=True, slots=True)
class VisitLeft:
    """A visit that is to be made, or to be finished. minutes : left. round : None of one outside the rounds, which only brings
    back what was lost. anew : the PC is in this setup already and it must be applied anew all the same.
    """

    setup: str
    visit: int
    round: int | None
    scenes: tuple[SceneLeft, ...]
    minutes: float
    begun: bool = False
    anew: bool = False
    part: int = 1

    @property
    def expected(self) -> RunKey | None:
        """The run that comes next."""
        if not self.scenes:
            return None
        first = self.scenes[0]
        return RunKey(first.title, first.scene, self.setup, self.visit, first.next_run)


@dataclass(frozen=True, slots=True)
class Lost:
    """A scene of which no run of a visit counts, now that the visit is over. into : number of the visit that brings it back."""

    setup: str
    visit: int
    title: str
    scene: str
    into: int


@dataclass(frozen=True, slots=True)
class Thin:
    """A scene that has fewer runs that count than planned in a visit that is over: another visit's run would not be its own."""

    setup: str
    visit: int
    title: str
    scene: str
    runs: int
    of: int


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan is carried out. visits : planned; over : of these, those that are over or complete. rounds : whole ones that
    are. present : the visit that the PC is in, None before the first. ahead : in the order in which they are to be made.
    """

    visits: int
    over: int
    rounds: int
    present: VisitLeft | None
    ahead: tuple[VisitLeft, ...]
    lost: tuple[Lost, ...] = ()
    thin: tuple[Thin, ...] = ()

    @property
    def due(self) -> VisitLeft | None:
        """The visit to go on with, or to begin; None where all is done."""
        if self.present is not None and self.present.scenes:
            return self.present
        return self.ahead[0] if self.ahead else None

    @property
    def minutes(self) -> float:
        """Of all that is left."""
        return sum(v.minutes for v in self.ahead) + (self.present.minutes if self.present else 0.0)


@dataclass(frozen=True, slots=True)
class Caution:
    """What to take care of. key : by which the book remembers that it was said."""

    key: str
    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """One factor as a setup has it. before : label of the level that the PC has now, None where that is not known or no other.

    expects : what a snapshot must show, in words.
    """

    factor: str
    level: str
    apply: Apply
    before: str | None = None
    expects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """The best use of some minutes. first : what the present visit lacks is recorded first. visits : whole ones, in order.

    minutes : that all of it takes, of those at hand. rounds : whole ones that are done then. broken : the visits are of a round
    that this time cannot finish, by `short` minutes. spare : visits of the next round that would fit too, and would leave it
    unfinished.
    """

    at_hand: float
    minutes: float
    first: VisitLeft | None
    visits: tuple[VisitLeft, ...]
    rounds: int
    broken: bool = False
    short: float = 0.0
    spare: int = 0
