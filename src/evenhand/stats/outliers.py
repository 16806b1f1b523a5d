"""Values that lie apart from the rest of a small set."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]

#: Iglewicz & Hoaglin (1993) flag a value whose modified z is further from zero than this.
APART = 3.5

_QUARTILE = 0.6745  # of the normal law, to the digits of the book: makes the MAD a standard deviation


def modified_z(x: ArrayLike, least_mad: float = 0.0) -> Floats:
    """0.6745 (x - median) / MAD (Iglewicz & Hoaglin 1993); shape as given.

    least_mad : the MAD is taken to be at least this, in the unit of x: the spread below which differences mean nothing.
    Where more than half of the values are equal the MAD is zero; without a `least_mad` the scores are then NaN (cannot tell).
    """
    values = _values(x, 1)
    away = values - np.median(values)
    mad = max(float(np.median(np.abs(away))), least_mad)
    return _QUARTILE * away / mad if mad > 0 else np.full(values.shape, np.nan)


@dataclass(frozen=True, slots=True)
class Grubbs:
    """Test of the value furthest from the mean. p-values are upper bounds (Bonferroni), exact where small."""

    index: int
    g: float
    critical_one_sided: float
    critical_two_sided: float
    p_one_sided: float
    p_two_sided: float


def grubbs(x: ArrayLike, alpha: float = 0.05) -> Grubbs | None:
    """Grubbs' test for one outlier in a normal sample (Grubbs 1969); None where all values are equal.

    x : shape (n,), n >= 3. One-sided: the side was known beforehand. Two outliers on a side can hide each other: the
    modified z does not suffer from that.
    """
    values = _values(x, 3)
    n = values.size
    sd = float(np.std(values, ddof=1))
    if sd == 0:
        return None
    away = np.abs(values - values.mean())
    g = float(away.max() / sd)
    rest = (n - 1) ** 2 - n * g * g
    t = np.sqrt(n * (n - 2) * g * g / rest) if rest > 0 else np.inf
    p = n * float(stats.t.sf(t, n - 2))
    return Grubbs(int(np.argmax(away)), g, _critical(n, alpha), _critical(n, alpha / 2), min(1.0, p), min(1.0, 2 * p))


def _critical(n: int, tail: float) -> float:
    t2 = float(stats.t.isf(tail / n, n - 2)) ** 2
    return (n - 1) / float(np.sqrt(n)) * float(np.sqrt(t2 / (n - 2 + t2)))


def _values(x: ArrayLike, least: int) -> Floats:
    values = np.asarray(x, np.float64)
    if values.ndim != 1 or values.size < least or not np.all(np.isfinite(values)):
        raise ValueError(f"needs one row of at least {least} finite values")
    return values
