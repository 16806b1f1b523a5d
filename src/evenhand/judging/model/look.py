"""One look at a study that is not, or not yet, complete: which it is of those planned, and what error it may spend."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Look:
    """A judging of the visits that are in.

    fewest, most : visits of the setup that has fewest (most). planned : numbers of visits at which looks are planned; the last is
    the number of visits planned. number : which of them this is, from 1; None where it is none of them.
    confidence : of simultaneous intervals at this look; inner : of the interval that level rests on. spent : error spent by now
    on ahead or behind. total : error of all looks together, this one included, if what each shows decides about going on.
    """

    fewest: int
    most: int
    planned: tuple[int, ...]
    number: int | None
    confidence: float
    inner: float
    spent: float
    total: float

    @property
    def final(self) -> bool:
        """Whether all planned visits are in, and no more."""
        return self.number == len(self.planned)


@dataclass(frozen=True, slots=True)
class Precision:
    """How sharp the average over titles is, against what recording may stop at. All on the measure's scale.

    target : half-width to stop at. reached_half : largest half-width of the simultaneous intervals against the baseline.
    further : visits of each setup expected to be needed still; 0 = reached, None = more than a plan holds.
    noise_unknown : too few degrees of freedom to believe the half-width; recording goes on.
    """

    target: float
    reached_half: float
    further: int | None
    noise_unknown: bool = False

    @property
    def reached(self) -> bool:
        """Whether recording may stop."""
        return self.further == 0
