"""Whether a sequence drifts, and how fast, by ranks: no shape is assumed and one odd value does little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]

_EXACT_UP_TO = 50  # values; beyond it the normal approximation is as good and much faster


@dataclass(frozen=True, slots=True)
class MannKendall:
    """Test of a monotone trend.

    s : pairs that rise minus pairs that fall. var_s : its variance without a trend, corrected for ties.
    z : with the continuity correction. p : two-sided, exact where there are no ties and at most 50 values, else from z.
    """

    s: int
    var_s: float
    z: float
    p: float


def mann_kendall(y: ArrayLike) -> MannKendall:
    """Mann-Kendall test of values in order of time (Mann 1945, Kendall 1975; ties as in US EPA QA/G-9S, 2006).

    y : shape (n,), n >= 2, finite. ValueError otherwise. Takes time and memory of n^2: meant for runs, not for frames.
    """
    values = _sequence(y)
    n = values.size
    s = int(np.sign(values[None, :] - values[:, None])[np.triu_indices(n, 1)].sum())
    ties = np.unique(values, return_counts=True)[1].astype(np.float64)
    var_s = float((n * (n - 1) * (2 * n + 5) - np.sum(ties * (ties - 1) * (2 * ties + 5))) / 18)
    z = float((s - np.sign(s)) / np.sqrt(var_s)) if var_s > 0 else 0.0
    if ties.max() == 1 and n <= _EXACT_UP_TO:
        p = float(stats.kendalltau(np.arange(n), values, method="exact").pvalue)
    else:
        p = float(2 * stats.norm.sf(abs(z)))
    return MannKendall(s, var_s, z, p)


def theil_sen(y: ArrayLike, t: ArrayLike) -> float:
    """Slope by the median of the slopes of all pairs (Theil 1950, Sen 1968), in the unit of y over that of t; both shape (n,)."""
    values, times = _sequence(y), np.asarray(t, np.float64)
    if times.shape != values.shape or np.ptp(times) == 0:
        raise ValueError("one time a value, not all equal")
    return float(stats.theilslopes(values, times).slope)


def _sequence(y: ArrayLike) -> Floats:
    values = np.asarray(y, np.float64)
    if values.ndim != 1 or values.size < 2 or not np.all(np.isfinite(values)):
        raise ValueError("a trend needs one row of at least two finite values")
    return values
