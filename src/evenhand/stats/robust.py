"""Middle and spread that a few odd values hardly move, and how a value looks to the others."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: Makes the median absolute deviation of normal values their standard deviation: 1 / the normal quantile of 3/4.
MAD_TO_SD: Final = 1.4826022185056018


def spread(x: ArrayLike, least: float = 0.0) -> float:
    """Median absolute deviation times `MAD_TO_SD`, in the unit of x, at least `least`; NaNs are left out.

    NaN where nothing is left. Source: Rousseeuw & Croux (1993), J. Amer. Statist. Assoc. 88, 1273-1283.
    """
    values = np.asarray(x, np.float64)
    values = values[~np.isnan(values)]
    if values.size == 0:
        return float("nan")
    return max(float(np.median(np.abs(values - np.median(values)))) * MAD_TO_SD, least)


def spread_about_zero(x: ArrayLike, least: float = 0.0) -> float:
    """Median absolute value times `MAD_TO_SD`, in the unit of x, at least `least`; for residuals, whose middle is zero."""
    values = np.abs(np.asarray(x, np.float64))
    values = values[~np.isnan(values)]
    return max(float(np.median(values)) * MAD_TO_SD, least) if values.size else float("nan")


def median_without(rows: Floats, usable: NDArray[np.bool_] | None = None) -> Floats:
    """For each row the column medians of all *other* usable rows; shape as `rows`, NaN where there is no other row.

    rows : shape (n, k). usable : shape (n,), default all; rows that are not usable still get their comparison. NaN in a usable
    row counts as that row's being at the column's middle. Exact, from one sort for all rows together.
    """
    n = rows.shape[0]
    keep = np.ones(n, dtype=np.bool_) if usable is None else usable
    pool = rows[keep]
    m = pool.shape[0]
    out = np.full(rows.shape, np.nan)
    if m == 0 or rows.shape[1] == 0:
        return out
    lacking = np.isnan(pool)
    if lacking.any():
        pool = np.where(lacking, _column_medians(pool), pool)
    out[~keep] = np.median(pool, axis=0)
    if m > 1:
        out[keep] = _median_of_others(pool)
    return out


def _column_medians(pool: Floats) -> Floats:
    known = ~np.all(np.isnan(pool), axis=0)
    middle = np.zeros(pool.shape[1])
    middle[known] = np.nanmedian(pool[:, known], axis=0)
    return middle


def _median_of_others(pool: Floats) -> Floats:
    """The value at place i of the sorted others is the value at place i, or i + 1 from the left-out one's place on."""
    order = np.argsort(pool, axis=0, kind="stable")
    ordered = np.take_along_axis(pool, order, axis=0)
    place = np.empty_like(order)
    np.put_along_axis(place, order, np.arange(pool.shape[0])[:, None], axis=0)
    low, high = (pool.shape[0] - 2) // 2, (pool.shape[0] - 1) // 2
    below = np.take_along_axis(ordered, low + (place <= low), axis=0)
    above = np.take_along_axis(ordered, high + (place <= high), axis=0)
    return np.asarray((below + above) / 2)
