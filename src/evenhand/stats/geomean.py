"""Geometric means: the summary of ratios whose ranking does not depend on what was divided by (Fleming & Wallace 1986)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]


def geomean(values: ArrayLike, weights: ArrayLike | None = None, axis: int = -1) -> Floats:
    """exp of the (weighted) mean of logarithms along `axis`. ValueError unless every value is above zero and finite."""
    array = np.asarray(values, np.float64)
    if array.size == 0 or not np.all((array > 0) & np.isfinite(array)):
        raise ValueError("a geometric mean needs at least one value, all above zero and finite")
    share = None if weights is None else np.asarray(weights, np.float64)
    return np.asarray(stats.gmean(array, axis=axis, weights=share), np.float64)


def relative_geomeans(times: ArrayLike, reference: int) -> Floats:
    """Geometric mean over columns of each row divided by row `reference`; `times` is (systems, programs)."""
    table = np.asarray(times, np.float64)
    return geomean(table / table[reference], axis=1)
