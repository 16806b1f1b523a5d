"""Several p values at once: adjusted so that each can be compared with the level directly."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]


def bonferroni(p: ArrayLike) -> Floats:
    """Adjusted p values, familywise error under any dependence. Shape as given; ValueError outside [0, 1]."""
    values = _checked(p)
    return np.minimum(values * values.size, 1.0)


def holm(p: ArrayLike) -> Floats:
    """Step-down adjusted p values, familywise error under any dependence (Holm 1979)."""
    values = _checked(p)
    order = np.argsort(values, kind="stable")
    steps = values.size - np.arange(values.size)
    return _put_back(np.maximum.accumulate(values[order] * steps), order)


def hochberg(p: ArrayLike) -> Floats:
    """Step-up adjusted p values, familywise error for independent or positively dependent tests (Hochberg 1988)."""
    values = _checked(p)
    order = np.argsort(values, kind="stable")[::-1]
    steps = 1 + np.arange(values.size)
    return _put_back(np.minimum.accumulate(values[order] * steps), order)


def benjamini_hochberg(p: ArrayLike) -> Floats:
    """Adjusted p values for the false-discovery rate, independent or positively dependent tests (Benjamini & Hochberg 1995)."""
    return _false_discovery(p, "bh")


def benjamini_yekutieli(p: ArrayLike) -> Floats:
    """Adjusted p values for the false-discovery rate under any dependence (Benjamini & Yekutieli 2001)."""
    return _false_discovery(p, "by")


def _false_discovery(p: ArrayLike, method: Literal["bh", "by"]) -> Floats:
    values = _checked(p)
    return np.asarray(stats.false_discovery_control(values, method=method), np.float64) if values.size else values


def _checked(p: ArrayLike) -> Floats:
    values = np.asarray(p, np.float64)
    if values.ndim != 1 or not np.all((values >= 0) & (values <= 1)):
        raise ValueError("p values are one row of numbers between 0 and 1")
    return values


def _put_back(adjusted: Floats, order: NDArray[np.intp]) -> Floats:
    out = np.empty_like(adjusted)
    out[order] = np.minimum(adjusted, 1.0)
    return out
