"""Random effects: units (titles) whose true effects differ, each known with its own error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_GRID = 61
_HALVINGS = 52
_AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True, eq=False)
class RandomEffects:
    """What `random_effects` found; k units, everything on the scale of y.

    tau2 : variance of the true effects between units, never negative. estimate : their mean, weights 1/(v + tau2).
    shrunken : shape (k,), the units' effects drawn towards the mean by tau2 / (v + tau2).
    """

    tau2: float
    estimate: float
    shrunken: Floats


def random_effects(y: ArrayLike, v: ArrayLike) -> RandomEffects:
    """Random effects of `y` with known variances `v`, both shape (k,), k >= 2, v > 0; tau2 by REML (Viechtbauer 2005).

    Raises ValueError for other shapes, values that are not finite or variances that are not above zero.
    """
    effects, variances = _checked(y, v)
    tau2 = float(between_variance(effects, variances))
    w = 1 / (variances + tau2)
    mean = float(w @ effects / w.sum())
    keep = tau2 * w
    return RandomEffects(tau2, mean, keep * effects + (1 - keep) * mean)


def _checked(y: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
    effects, variances = np.asarray(y, np.float64), np.asarray(v, np.float64)
    if effects.ndim != 1 or effects.shape != variances.shape or effects.size < 2:
        raise ValueError("effects and variances are two rows of the same length, at least two")
    if not (np.all(np.isfinite(effects)) and np.all(np.isfinite(variances)) and np.all(variances > 0)):
        raise ValueError("effects are finite, variances finite and above zero")
    return effects, variances


def between_variance(y: Floats, v: Floats) -> Floats:
    """REML estimate of tau2, shape (...), of problems (..., k) with variances v > 0 of the same shape.

    The highest point of the restricted likelihood on a grid, refined by the root of its slope: the likelihood may have two peaks,
    and a plain iteration stops at the nearer one.
    """
    shape = y.shape[:-1]
    y, v = y.reshape(-1, y.shape[-1]), v.reshape(-1, y.shape[-1])
    top = np.ptp(y, axis=1) ** 2 + v.max(axis=1)
    least = 1e-6 * np.minimum(v.min(axis=1), top)
    steps = np.linspace(0.0, 1.0, _GRID)
    grid = np.concatenate([np.zeros((top.size, 1)), least[:, None] * (top / least)[:, None] ** steps], axis=1)
    size = max(1, _AT_ONCE // (grid.shape[1] * y.shape[1]))
    parts = [slice(i, i + size) for i in range(0, top.size, size)]
    best = np.concatenate([_log_likelihood(y[p], v[p], grid[p]).argmax(axis=1) for p in parts])[:, None]
    low = np.take_along_axis(grid, np.maximum(best - 1, 0), axis=1)[:, 0]
    high = np.take_along_axis(grid, np.minimum(best + 1, _GRID), axis=1)[:, 0]
    found = np.take_along_axis(grid, best, axis=1)[:, 0]
    inside = (_slope(y, v, low) > 0) & (_slope(y, v, high) < 0)
    for _ in range(_HALVINGS if inside.any() else 0):
        middle = (low + high) / 2
        rising = _slope(y, v, middle) > 0
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    return np.asarray(np.where(inside, (low + high) / 2, found).reshape(shape))


def _slope(y: Floats, v: Floats, tau2: Floats) -> Floats:
    """Of the restricted log-likelihood, times two."""
    w = 1 / (v + tau2[:, None])
    total = w.sum(axis=1)
    mean = (w * y).sum(axis=1) / total
    return np.asarray(((w * (y - mean[:, None])) ** 2).sum(axis=1) - total + (w * w).sum(axis=1) / total)


def _log_likelihood(y: Floats, v: Floats, tau2: Floats) -> Floats:
    """Twice the restricted log-likelihood, but for a constant, at each of `tau2` (S, G)."""
    w = 1 / (v[:, None] + tau2[:, :, None])
    total = w.sum(axis=2)
    mean = (w @ y[:, :, None]) / total[:, :, None]
    return np.asarray(np.log(w).sum(axis=2) - (w * (y[:, None] - mean) ** 2).sum(axis=2) - np.log(total))
