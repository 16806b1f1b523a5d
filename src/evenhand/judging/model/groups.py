"""Response groups: titles that answer the setups alike."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from evenhand.judging.model.found import Comparison, Effect


class Response(Enum):
    """How a title answers the setups."""

    LEVEL = "level everywhere"
    LIMITED = "limited by what was not varied"
    PREFERS = "prefers levels"
    COMBINATION = "only the combination counts"
    DEPENDS = "what one factor does depends on another"
    SETUPS = "ahead or behind, without a factor that explains it"
    DISAGREE = "average and low disagree"
    OPEN = "open"


class LimitKind(Enum):
    """What can hold a title's rate whatever the setup."""

    CAP = "frame cap"
    GRAPHICS = "graphics load"


@dataclass(frozen=True, slots=True)
class Limit:
    """Something that the study did not vary and that may limit a title. reached : whether it does, under every setup.

    value : frames a second of the cap; per cent of the time that the graphics processor was busy, the least of the setups where
    it is reached, else the largest.
    """

    kind: LimitKind
    value: float
    reached: bool


@dataclass(frozen=True, slots=True)
class Preference:
    """A level of a factor that a title prefers to another (`over`)."""

    factor: str
    level: str
    over: str


@dataclass(frozen=True, slots=True)
class Member:
    """A title of a response group, and what shows it: for PREFERS and DEPENDS a factor's effect, else a comparison with the
    baseline, the one that bears the group most plainly. beside : the same comparison in the low, for DISAGREE. limits : what was
    looked at, for LIMITED and LEVEL.
    """

    title: str
    shown: Comparison | Effect
    beside: Comparison | None = None
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class ResponseGroup:
    """Titles that answer alike. Every title is in one group.

    prefers : for PREFERS. levels : for COMBINATION, (factor, level) of those that count only together. setups : for SETUPS and
    DISAGREE, those concerned; for COMBINATION, the one with these levels. low_open : titles of LEVEL and LIMITED whose low is not
    settled or not level.
    """

    kind: Response
    members: tuple[Member, ...]
    prefers: tuple[Preference, ...] = ()
    levels: tuple[tuple[str, str], ...] = ()
    setups: tuple[str, ...] = ()
    low_open: tuple[str, ...] = ()

    @property
    def titles(self) -> tuple[str, ...]:
        """Names of the titles."""
        return tuple(m.title for m in self.members)
