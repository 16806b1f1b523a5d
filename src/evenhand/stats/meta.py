"""Random effects: units (titles) whose true effects differ, each known with its own error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

Floats = NDArray[np.float64]


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
    tau2 = _restricted_likelihood(effects, variances)
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


def _restricted_likelihood(y: Floats, v: Floats) -> float:
    """tau2 at the highest point of the restricted likelihood on a grid, refined by the root of its slope: the likelihood may
    have two peaks, and a plain iteration stops at the nearer one.
    """

    def slope(tau2: float) -> float:
        w = 1 / (v + tau2)
        mean = w @ y / w.sum()
        return float(np.sum((w * (y - mean)) ** 2) - w.sum() + np.sum(w * w) / w.sum())

    top = float(np.ptp(y) ** 2) + float(v.max())
    grid = np.concatenate(([0.0], np.geomspace(1e-6 * min(float(v.min()), top), top, 61)))
    best = int(np.argmax(_log_likelihoods(y, v, grid)))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
    if best == 0 and slope(0.0) <= 0:
        return 0.0
    if not slope(low) > 0 > slope(high):
        return float(grid[best])
    return float(optimize.brentq(slope, low, high, xtol=1e-300, rtol=1e-12))


def _log_likelihoods(y: Floats, v: Floats, tau2: Floats) -> Floats:
    """Twice the restricted log-likelihood, but for a constant, at each of `tau2`."""
    w = 1 / (v[:, None] + tau2)
    total = w.sum(axis=0)
    whole = np.log(w).sum(axis=0) - np.sum(w * (y[:, None] - y @ w / total) ** 2, axis=0)
    return np.asarray(whole - np.log(total), np.float64)
