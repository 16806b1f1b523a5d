"""Kinds of study for which an interval does not cover what it says, told in words with the figures of the calibration.

The figures are shares that a 95 % interval covers, lowest and highest of such kinds on the grid (docs/methods/calibration.md);
a test holds them to that page and counts one kind of each again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Reservation:
    """counts : name of the count. low, high : shares. words : with places for both in per cent, and for names."""

    counts: str
    low: float
    high: float
    words: str

    def say(self, **names: str) -> str:
        """The words with the figures and `names` put in."""
        return self.words.format(low=f"{100 * self.low:.0f}", high=f"{100 * self.high:.0f}", **names)


ONE_DF: Final = Reservation(
    "title",
    0.97,
    0.98,
    "one degree of freedom for the noise between visits: intervals at a title are wider than need be (a 95 % interval covers "
    "{low} to {high} %)",
)
UNSTEADY: Final = Reservation(
    "over_last",
    0.80,
    0.91,
    "the visits of {setup} differ by more than those of the other setups, while all are taken to shift alike: where one shifts "
    "three times as much, a 95 % interval with it covers {low} to {high} %",
)
NOISIER: Final = Reservation(
    "title_last",
    0.93,
    0.97,
    "{setup} is noisier than the other setups ({ratio} times) and has noise of its own: a 95 % interval with such a setup covers "
    "{low} to {high} %",
)
UNEVEN: Final = Reservation(
    "like",
    0.66,
    0.96,
    "a few titles lie far from the rest: where a tenth of titles collapse, a 95 % interval for titles like these covers {low} to "
    "{high} %; read the counts of titles beside it",
)
