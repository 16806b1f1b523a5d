"""The nouns of a plan: in which order the PC is visited, what is recorded when, how long it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes of the parts of bench work.

    apply : putting the PC into a setup, reboot included; by_setup : where a setup takes other than that. load : starting a title
    and getting to its scene; by_title : where a title takes other than that. warm_up : of a scene before its first run. scene :
    its own length where the study does not state it. reset : getting back to the start of the scene after a run. settle : after a
    reboot, before anything is recorded. once : (what, minutes) that come once a study.
    """

    apply: float = 6.0
    load: float = 2.0
    warm_up: float = 0.0
    scene: float = 1.0
    reset: float = 0.5
    settle: float = 5.0
    by_setup: Mapping[str, float] = field(default_factory=dict)
    by_title: Mapping[str, float] = field(default_factory=dict)
    once: tuple[tuple[str, float], ...] = ()


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

    order : place in the whole plan, from 1. round : from 1. visit : its number for this setup, from 1 (as in `RunKey`). minutes :
    applying and settling included. again : the PC is in this setup already and it must be applied anew all the same. part : which
    part of the titles, from 1. day : of bench work, from 1.
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
    """The whole order. The same study, costs and seed give the same plan.

    day_minutes : bench work a day that the days were filled with, None where no such limit was stated. notes : what a person
    should know of it.
    """

    seed: int
    visits: tuple[PlannedVisit, ...]
    costs: Costs
    day_minutes: float | None = None
    parts: int = 1
    notes: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Of all visits, and of what comes once."""
        return sum(v.minutes for v in self.visits) + sum(m for _, m in self.costs.once)

    @property
    def days(self) -> int:
        """Days of bench work."""
        return max((v.day for v in self.visits), default=0)

    @property
    def rounds(self) -> int:
        """Number of rounds of each part."""
        return max((v.round for v in self.visits), default=0)
