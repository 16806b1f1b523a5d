"""What the choice among the definitions of a low does to what was concluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from evenhand.judging.model.found import Verdict


class Bearing(Enum):
    """What the choice of definition does to one comparison."""

    SAME = "the same verdict"
    FIRMNESS = "told further under some than under others"  # one effect could bear all the verdicts
    DEPENDS = "depends on the definition"  # no one effect could
    OPEN = "open under all"
    UNSTATED = "cannot be stated"  # fewer than two definitions bear a verdict


@dataclass(frozen=True, slots=True)
class DefinedVerdicts:
    """One setup against another at a title (None = over titles), under every definition of one low.

    verdicts : measure key -> verdict; a definition that could not be judged here, or that too few frames decide, is missing.
    """

    title: str | None
    setup: str
    against: str
    verdicts: Mapping[str, Verdict]
    bearing: Bearing


@dataclass(frozen=True, slots=True)
class LowDefinitions:
    """A low (the slowest 1 % or 0.1 %) under all its definitions.

    share : 0.01 or 0.001. measures : keys of the definitions judged, in the catalogue's order. compared : every setup against the
    baseline, over titles first. few_frames : measure key -> title -> the fewest frames of a visit that decide the low there,
    where these are too few to state it. recommended : measure key -> the setup that would be recommended with this definition;
    empty where the low has no weight in it.
    """

    share: float
    measures: tuple[str, ...]
    compared: tuple[DefinedVerdicts, ...]
    few_frames: Mapping[str, Mapping[str, int]]
    recommended: Mapping[str, str] = field(default_factory=dict)

    def of(self, bearing: Bearing) -> tuple[DefinedVerdicts, ...]:
        """The comparisons of that kind."""
        return tuple(c for c in self.compared if c.bearing is bearing)

    @property
    def conclusions(self) -> int:
        """How many comparisons at least one definition settles."""
        return sum(c.bearing not in (Bearing.OPEN, Bearing.UNSTATED) for c in self.compared)
