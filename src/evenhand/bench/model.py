"""The nouns of the bench: what a PC is at a moment, how two moments differ, which setup it is in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

Value: TypeAlias = str | float | bool


class Origin(StrEnum):
    """Where a fact comes from."""

    READ = "read"  # from the machine itself
    TYPED = "typed in"  # a person said so; never checked
    WORKED_OUT = "worked out"  # from other facts


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact of a PC. key : of the catalogue. where : file or call it was read from, for people."""

    key: str
    value: Value
    origin: Origin
    where: str = ""


class Kind(StrEnum):
    """Kind of a core."""

    PERFORMANCE = "performance"
    EFFICIENCY = "efficiency"
    ALIKE = "alike"  # the processor has one kind only
    UNTOLD = "cannot tell"


@dataclass(frozen=True, slots=True)
class LogicalCpu:
    """One logical processor. core, package, module : numbers that processors of one core, package, second-level cache share,
    counted from 0; None where not readable (a processor that is switched off). max_mhz : highest clock.
    """

    number: int
    online: bool
    core: int | None
    package: int | None
    module: int | None
    kind: Kind
    max_mhz: float | None


@dataclass(frozen=True, slots=True)
class Topology:
    """The processors of a machine, by number. kind_from : what told the kinds apart, for people."""

    cpus: tuple[LogicalCpu, ...]
    kind_from: str = ""

    @property
    def online(self) -> tuple[LogicalCpu, ...]:
        """Those that are switched on."""
        return tuple(c for c in self.cpus if c.online)

    def cores(self, kind: Kind | None = None) -> int:
        """Cores with a processor that is switched on, of one kind or of all."""
        return len({c.core for c in self.online if kind in (None, c.kind)})

    def threads(self, kind: Kind | None = None) -> tuple[int, ...]:
        """Threads of each such core, in the order of their first processor."""
        held: dict[int | None, int] = {}
        for cpu in self.online:
            if kind in (None, cpu.kind):
                held[cpu.core] = held.get(cpu.core, 0) + 1
        return tuple(held.values())

    @property
    def packages(self) -> int:
        """Processors in the sense of a shop."""
        return len({c.package for c in self.online})


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A PC at a moment. taken_at : ISO 8601 UTC. machine : a label that tells machines apart, no serial number in clear.
    unread : fact key -> why it could not be read.
    """

    taken_at: str
    machine: str
    facts: Mapping[str, Fact]
    topology: Topology
    unread: Mapping[str, str] = field(default_factory=dict)
    version: str = ""


class Grade(StrEnum):
    """How much a difference between two snapshots matters."""

    BLOCKS = "blocks"
    NOTE = "note"
    NOISE = "noise"


@dataclass(frozen=True, slots=True)
class Difference:
    """One fact that differs. before, after : None where it was not readable. waived : why a person said that it does not
    matter.
    """

    key: str
    before: Value | None
    after: Value | None
    grade: Grade
    sentence: str
    waived: str = ""


@dataclass(frozen=True, slots=True)
class Waiver:
    """A change that a person looked at: it does not matter, because `why`. fact : of a PC, or "title: fact". Which of the two
    values came first does not matter. at : ISO 8601 UTC.
    """

    fact: str
    before: Value | None
    after: Value | None
    why: str
    by: str
    at: str = ""


@dataclass(frozen=True, slots=True)
class Mismatch:
    """An expectation that a snapshot does not meet (`found` None: could not be read, so it cannot be told)."""

    factor: str
    level: str
    key: str
    expected: Value
    found: Value | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Proof:
    """Which setup a PC is in.

    setup : the only one whose expectations are all met; None = none or several. possible : setups that are not contradicted.
    mismatches : setup -> what contradicts it. untold : setup -> expectations that the snapshot cannot answer.
    """

    setup: str | None
    possible: tuple[str, ...]
    mismatches: Mapping[str, tuple[Mismatch, ...]]
    untold: Mapping[str, tuple[Mismatch, ...]]


Place: TypeAlias = tuple[str, int]
"""A visit: name of the setup, number."""


@dataclass(frozen=True, slots=True)
class SeenVisit:
    """A visit as its snapshots show it. snapshots : in the order of time, none where none was taken. began : ISO 8601.

    why : reason for which it keeps a label that a snapshot contradicts. runs : title -> its runs that count. titles : (title,
    fact) -> what it was in it, each further value a change.
    """

    setup: str
    visit: int
    began: str
    proven: bool
    snapshots: tuple[Snapshot, ...] = ()
    why: str = ""
    tester: str = ""
    runs: Mapping[str, int] = field(default_factory=dict)
    titles: Mapping[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)

    @property
    def place(self) -> Place:
        """Setup and number."""
        return self.setup, self.visit


class Effect(StrEnum):
    """What a change does to results."""

    STALE = "stale"  # a comparison straddles it
    ROUNDS = "taken out by rounds"  # it lies between rounds, and rounds are a term of the analysis
    LATER = "no results yet"  # nothing is recorded on one of its sides
    NONE = "none"  # it does not matter


@dataclass(frozen=True, slots=True)
class Change:
    """A fact that changed from one visit to a later one, or inside one (`after` is `before`). title : "" of the PC itself."""

    before: Place
    after: Place
    difference: Difference
    effect: Effect
    title: str = ""

    @property
    def inside(self) -> bool:
        """Whether it happened in the course of one visit."""
        return self.before == self.after


@dataclass(frozen=True, slots=True)
class Redo:
    """A visit that is to be recorded again. title : only this one, "" = all. runs : that are recorded anew. needs : facts that
    must be so then, in words; empty = as the PC is now.
    """

    setup: str
    visit: int
    title: str
    runs: int
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class VisitProof:
    """What stands behind the label of a visit. snapshots : when they were taken. contradicted : by what one of them shows.

    runs : of it that count. began, why, tester : as in `SeenVisit`.
    """

    setup: str
    visit: int
    began: str
    proven: bool
    why: str
    tester: str
    snapshots: tuple[str, ...]
    runs: int
    contradicted: tuple[Mismatch, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchAccount:
    """What the snapshots say of a study's visits.

    visits : in the order of time. changes : what no factor explains. stale : pairs of setups whose comparison straddles a
    change, and the title ("" = every title); a pair of the same setup = its visits do not belong together. least : the fewest
    visits that make them good again. now : the fewest with the PC as it is now. rounds : whether rounds are a term of the
    analysis; rounds_would : they are not, and as one they would take every change out. facts : what the PC is, label -> value
    in words, as the last snapshot shows it; without what the setups change.
    """

    visits: tuple[VisitProof, ...] = ()
    changes: tuple[Change, ...] = ()
    stale: tuple[tuple[str, str, str], ...] = ()
    least: tuple[Redo, ...] = ()
    now: tuple[Redo, ...] = ()
    rounds: bool = False
    rounds_would: bool = False
    facts: Mapping[str, str] = field(default_factory=dict)

    def straddles(self, one: str, other: str, title: str | None = None) -> bool:
        """Whether the comparison of two setups at a title (None = over titles) mixes visits before and after a change."""
        mine = {(a, b) for a, b, t in self.stale if title is None or t in ("", title)}
        return bool(mine & {(one, other), (other, one), (one, one), (other, other)})
