"""The titles of the invented study: how fast they run, and how each answers slower memory and a lower power limit.

Every number here is made up; so are the titles.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from evenhand.units import log_of_percent

#: Setups in the study's order; the first is the baseline, in which every effect is zero.
SETUPS: Final = ("fast-65", "fast-45", "slow-65", "slow-45")


class Response(StrEnum):
    """How a title answers the two factors."""

    LEVEL = "level everywhere"
    MEMORY = "prefers fast memory"
    POWER = "needs the power"
    BOTH = "collapses only when both are low"
    DISAGREE = "average and lows disagree"
    CAPPED = "held by a frame cap"


@dataclass(frozen=True, slots=True)
class InventedTitle:
    """One title with its true effects.

    rate : average under the baseline, frames per second. seconds : length of the scene.
    average, low : setup -> true change of the average frame rate and of the 1 % low against the baseline, as logarithms.
    loading_s : length of the loading interval at the start of its logs, 0 = none.
    """

    name: str
    label: str
    response: Response
    rate: float
    average: Mapping[str, float]
    low: Mapping[str, float]
    seconds: float = 27.0
    loading_s: float = 0.0
    cap: float | None = None
    warms_up: bool = False


def _effects(*percent: float) -> dict[str, float]:
    """Per cent against the baseline for the three other setups -> setup -> logarithm."""
    return {SETUPS[0]: 0.0} | {setup: log_of_percent(p) for setup, p in zip(SETUPS[1:], percent, strict=True)}


#: Columns of the table below: 45 W; 5200 MT/s; both.
_NONE = _effects(0, 0, 0)
_SLIGHT = _effects(-0.6, -1, -1.6)

TITLES: Final[tuple[InventedTitle, ...]] = (
    InventedTitle("copper-meridian", "Copper Meridian", Response.POWER, 96, _effects(-9, 0, -9), _effects(-9, 0, -9)),
    InventedTitle("gannet-hollow", "Gannet Hollow", Response.LEVEL, 118, _effects(0, -0.5, -0.5), _effects(0, -0.5, -0.5)),
    InventedTitle("harbour-lights", "Harbour Lights", Response.LEVEL, 104, _NONE, _NONE, loading_s=0.9),
    InventedTitle("ironvale", "Ironvale", Response.LEVEL, 88, _effects(-0.4, 0, -0.4), _effects(-0.4, 0, -0.4), warms_up=True),
    InventedTitle("moss-and-ember", "Moss & Ember", Response.MEMORY, 112, _effects(-0.5, -6, -6.5), _effects(-0.5, -8, -8.5)),
    InventedTitle("night-ferry", "Night Ferry", Response.BOTH, 92, _effects(-1, -0.8, -22), _effects(-1, -1, -34), loading_s=0.5),
    InventedTitle("paper-armada", "Paper Armada", Response.POWER, 128, _effects(-7, -0.3, -7.3), _effects(-8, -0.3, -8.3)),
    InventedTitle("quiet-orbit", "Quiet Orbit", Response.MEMORY, 135, _effects(0, -4.5, -4.5), _effects(0, -5, -5)),
    InventedTitle("saltmarsh-rally", "Saltmarsh Rally", Response.CAPPED, 150, _NONE, _NONE, cap=120.0),
    InventedTitle("tin-cathedral", "Tin Cathedral", Response.DISAGREE, 101, _effects(-0.4, 0, -0.4), _effects(-14, -1, -15)),
    InventedTitle("under-glass", "Under Glass", Response.LEVEL, 83, _SLIGHT, _SLIGHT, loading_s=1.4),
    InventedTitle("velvet-turbine", "Velvet Turbine", Response.MEMORY, 109, _effects(-0.4, -3, -3.4), _effects(-0.4, -3, -3.4)),
)
