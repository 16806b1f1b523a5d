"""Stationary bootstrap of a series (Politis & Romano 1994) with automatic block length (Politis & White 2004, corrected by
Patton, Politis & White 2009).

A resample is kept as weights: how often each point of the series is drawn. Whatever is a weighted sum or a weighted quantile
then needs no copy of the data and no sort per resample.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]


def block_length(series: ArrayLike) -> float:
    """Mean block length (in points) that makes the variance of the mean of a stationary series, shape (n,), n >= 8, most precise.
    A constant series gives 1.

    Correlations count up to the first lag from which K = max(5, ⌊√log₁₀ n⌋) in a row lie inside ±2 √(log₁₀ n / n), doubled;
    flat-top weights; lengths between 1 and min(3√n, n/3).
    """
    x = np.asarray(series, dtype=np.float64)
    n = x.size
    if n < 8:
        raise ValueError(f"a block length needs at least 8 points, there are {n}")
    e = x - x.mean()
    # A sum of squares at the level of rounding is a constant series, whose "correlations" would be rounding errors.
    if not (e * e).sum() > n * (1e-12 * max(1.0, float(np.abs(x).max()))) ** 2:
        return 1.0
    run = max(5, int(math.sqrt(math.log10(n))))
    most = min(math.ceil(math.sqrt(n)) + run, n - 2)
    # Plain sums: the threads that a matrix product starts for ten thousand points cost more than they save.
    covariances = np.array([(e[k:] * e[: n - k]).sum() for k in range(most + 1)]) / n
    begun = np.cumsum(e * e)
    k = np.arange(most + 1)
    scales = np.sqrt(np.maximum(begun[-1] - begun[k], 0.0) * begun[n - 2 - k])
    with np.errstate(divide="ignore", invalid="ignore"):
        small = np.nan_to_num(np.abs(covariances) * n / scales) < 2 * math.sqrt(math.log10(n) / n)
    first = _first_run(small[:-1], run)
    lag = most if first is None else min(2 * max(first, 1), most)
    lags = np.arange(1, lag + 1)
    flat_top = np.minimum(1.0, 2 * (1 - lags / lag))
    g = 2 * float((flat_top * lags * covariances[lags]).sum())
    spectrum = float(covariances[0] + 2 * (flat_top * covariances[lags]).sum())
    longest = math.ceil(min(3 * math.sqrt(n), n / 3))
    variance = spectrum**2
    return float(np.clip((g**2 / variance * n) ** (1 / 3), 1.0, longest)) if variance > 0 else float(longest)


def _first_run(flags: NDArray[np.bool_], length: int) -> int | None:
    """Where the first `length` True in a row begin."""
    sums = np.convolve(flags.astype(np.int64), np.ones(length, dtype=np.int64), "valid")
    found = np.flatnonzero(sums == length)
    return int(found[0]) if found.size else None


def resample_weights(rng: np.random.Generator, n: int, mean_block: float) -> Counts:
    """How often each of n points is drawn in one stationary-bootstrap resample of n points, shape (n,), sum n.

    Blocks begin anywhere with equal probability, have geometric lengths with mean `mean_block` >= 1 and wrap round the end.
    """
    expected = int(n / mean_block * 1.3) + 50
    lengths = rng.geometric(1 / mean_block, expected)
    ends = np.cumsum(lengths)
    while ends[-1] < n:
        lengths = np.concatenate((lengths, rng.geometric(1 / mean_block, expected)))
        ends = np.cumsum(lengths)
    blocks = int(np.searchsorted(ends, n)) + 1
    lengths = lengths[:blocks].copy()
    lengths[-1] -= ends[blocks - 1] - n
    starts = rng.integers(0, n, blocks)
    steps = np.bincount(starts, minlength=2 * n + 1) - np.bincount(starts + lengths, minlength=2 * n + 1)
    drawn = np.cumsum(steps[:-1])
    return np.asarray(drawn[:n] + drawn[n:], dtype=np.int64)


def percentile_interval(draws: ArrayLike, confidence: float) -> tuple[float, float]:
    """The middle `confidence` of bootstrap draws, shape (b,); NaN draws (not stated in a resample) are left out."""
    values = np.asarray(draws, dtype=np.float64)
    known = values[np.isfinite(values)]
    if not known.size:
        return float("nan"), float("nan")
    tail = (1 - confidence) / 2
    low, high = np.quantile(known, [tail, 1 - tail])
    return float(low), float(high)
