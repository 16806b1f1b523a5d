"""What would settle an open verdict, and up to what a one-visit result would hold."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy import special

from evenhand.judging.critical import pairs_quantile, t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

#: More visits than this are no longer a plan.
MOST_FURTHER_VISITS = 20


def further_visits(
    estimate: Floats, se: Floats, df: Floats, visits: Floats, margin: float, setups: int, confidence: float
) -> Ints:
    """Further visits per setup after which a verdict other than open is expected; 0 where none up to 20 is.

    All arrays (K,). visits : per setup so far (harmonic mean). Supposes that the estimate stays what it is, the variance falls as
    1/visits and the degrees of freedom grow as visits − 1: settled is the first m where the simultaneous interval leaves out 0 or
    the 90 % interval fits inside the margin.
    """
    more = np.arange(1, MOST_FURTHER_VISITS + 1)[None, :]
    now = visits[:, None]
    usable = (df > 0) & np.isfinite(se) & (visits > 1)
    later_df = np.where(usable, df, 1.0)[:, None] * (now + more - 1) / np.maximum(now - 1, 0.5)
    later_se = np.where(usable, se, 0.0)[:, None] * np.sqrt(now / (now + more))
    size = np.abs(estimate)[:, None]
    told = size - pairs_quantile(setups, later_df, confidence) * later_se > 0
    level = size + t_quantile(later_df, INNER_CONFIDENCE) * later_se < margin
    settled = (told | level) & usable[:, None]
    return np.where(settled.any(axis=1), settled.argmax(axis=1) + 1, 0)


def tipping_point(estimate: float, shift_share: float, run_variance: float, confidence: float) -> float:
    """The visit-to-visit standard deviation σ up to which the sign of a one-visit estimate would hold.

    The estimate's variance is shift_share · σ² + run_variance (shift_share = 2 for two setups of one visit each); the sign holds
    while |estimate| is above z times its root: σ = sqrt(((estimate / z)² − run_variance) / shift_share), 0 where the runs alone
    could turn it. Where no visit has two runs, run_variance is 0 and σ covers run noise as well.
    """
    z = float(special.ndtri((1 + confidence) / 2))
    return math.sqrt(max((estimate / z) ** 2 - run_variance, 0.0) / shift_share) if shift_share > 0 else 0.0
