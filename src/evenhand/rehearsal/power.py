"""Chances by formula: that a difference is found, that a tie ends level, and how many visits either needs.

The simulation of a whole design is in planned.py; these formulas answer "how many" without trying every number of visits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import integrate, special, stats

Floats = npt.NDArray[np.float64]

#: The chance that a plan is asked to reach.
WANTED: Final = 0.8
#: Standard errors of the estimated spread on either side that are integrated over; beyond it is nothing.
_REACH: Final = 9.0
_NODES: Final = 120


def chance_ahead(difference: float, se: float, df: float, critical: float) -> float:
    """P(estimate / its standard error > critical) where the truth is `difference`: the noncentral t distribution.

    se : true standard error of the estimate, > 0. df : of its estimate, > 0. critical : one-sided; the two-sided 95 % quantile
    gives the chance of a significant result on the right side.
    """
    return float(stats.nct.sf(critical, df, difference / se))


def chance_level(difference: float, low: float, high: float, se: float, df: float, critical: float) -> float:
    """P(low < estimate − critical·ŝ and estimate + critical·ŝ < high) where the truth is `difference`: two one-sided tests.

    low < high : the limits. se, df as in `chance_ahead`. critical : one-sided, e.g. the 95 % quantile of Student's t. Integrated
    over the distribution of ŝ (Owen 1965 gives the same integral as a table).
    """
    spread = 1.0 / math.sqrt(2.0 * df)
    widest = (high - low) / (2.0 * critical * se)
    top = min(widest, 1.0 + _REACH * spread)

    def inside(ratio: Floats) -> Floats:
        half = critical * se * ratio
        share = special.ndtr((high - half - difference) / se) - special.ndtr((low + half - difference) / se)
        return np.asarray(np.maximum(share, 0.0) * 2.0 * df * ratio * stats.chi2.pdf(df * ratio**2, df))

    bottom = max(0.0, 1.0 - _REACH * spread)
    if top <= bottom:
        return 0.0
    return float(integrate.fixed_quad(inside, bottom, top, n=_NODES)[0])


def smallest(chance: Callable[[int], float], least: int, most: int, wanted: float = WANTED, step: int = 1) -> int | None:
    """The smallest n in least, least + step ... most with chance(n) >= wanted, None where there is none; chance must grow."""
    if chance(least + (most - least) // step * step) < wanted:
        return None
    low, high = 0, (most - least) // step
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if chance(least + middle * step) >= wanted else (middle + 1, high)
    return least + low * step
