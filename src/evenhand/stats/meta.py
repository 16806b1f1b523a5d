"""Random effects: units (titles) whose true effects differ, each known with its own error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

Floats = NDArray[np.float64]
Method = Literal["DL", "REML", "PM", "ML"]


@dataclass(frozen=True, slots=True, eq=False)
class RandomEffects:
    """What `random_effects` found; k units, everything on the scale of y.

    tau2 : variance of the true effects between units, never negative. estimate, se : their mean, weights 1/(v + tau2).
    Q, df, p : Cochran's test that all units are alike. i2 : share of the variation that is between units (0 to 1).
    hk_se, hk : Hartung-Knapp standard error and interval of the mean, t with k - 1 degrees of freedom.
    prediction : interval for the true effect of a unit not observed, t with k - 2 (Higgins, Thompson & Spiegelhalter 2009);
    infinite where k = 2. shrunken, shrunken_se : shape (k,), the units' effects drawn towards the mean, the error of the
    mean included.
    """

    method: Method
    tau2: float
    estimate: float
    se: float
    Q: float
    df: int
    p: float
    i2: float
    confidence: float
    hk_se: float
    hk: tuple[float, float]
    prediction: tuple[float, float]
    shrunken: Floats
    shrunken_se: Floats


def random_effects(y: ArrayLike, v: ArrayLike, method: Method = "REML", confidence: float = 0.95) -> RandomEffects:
    """Random-effects meta-analysis of effects `y` with known variances `v`, both shape (k,), k >= 2, v > 0.

    method : estimator of tau2: "DL" DerSimonian & Laird 1986, "REML" and "ML" likelihood, "PM" Paule & Mandel 1982.
    Raises ValueError for other shapes, values that are not finite or variances that are not above zero.
    """
    effects, variances = _checked(y, v)
    k = effects.size
    tau2 = _TAU2[method](effects, variances)
    mean, se = _weighted(effects, variances, tau2)
    w = 1 / (variances + tau2)
    q = _q(effects, variances, 0.0)
    hk_se = se * float(np.sqrt(np.sum(w * (effects - mean) ** 2) / (k - 1)))
    keep = tau2 / (variances + tau2)
    shrunken_se = np.sqrt(keep * variances + (1 - keep) ** 2 * se * se)
    ahead = float(np.sqrt(tau2 + se * se)) * _t(k - 2, confidence)
    half = hk_se * _t(k - 1, confidence)
    return RandomEffects(
        method=method,
        tau2=tau2,
        estimate=mean,
        se=se,
        Q=q,
        df=k - 1,
        p=float(stats.chi2.sf(q, k - 1)),
        i2=tau2 / (tau2 + _typical(variances)),
        confidence=confidence,
        hk_se=hk_se,
        hk=(mean - half, mean + half),
        prediction=(mean - ahead, mean + ahead),
        shrunken=keep * effects + (1 - keep) * mean,
        shrunken_se=shrunken_se,
    )


def tau2_interval(y: ArrayLike, v: ArrayLike, confidence: float = 0.95) -> tuple[float, float]:
    """Interval of the variance between units by the Q profile (Viechtbauer 2007).

    (0, 0) where the units are more alike than their own errors allow at that confidence.
    """
    effects, variances = _checked(y, v)
    tail = (1 - confidence) / 2
    low, high = (float(stats.chi2.ppf(share, effects.size - 1)) for share in (tail, 1 - tail))
    return _q_equals(effects, variances, high), _q_equals(effects, variances, low)


def _checked(y: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
    effects, variances = np.asarray(y, np.float64), np.asarray(v, np.float64)
    if effects.ndim != 1 or effects.shape != variances.shape or effects.size < 2:
        raise ValueError("effects and variances are two rows of the same length, at least two")
    if not (np.all(np.isfinite(effects)) and np.all(np.isfinite(variances)) and np.all(variances > 0)):
        raise ValueError("effects are finite, variances finite and above zero")
    return effects, variances


def _weighted(y: Floats, v: Floats, tau2: float) -> tuple[float, float]:
    w = 1 / (v + tau2)
    return float(w @ y / w.sum()), float(1 / np.sqrt(w.sum()))


def _q(y: Floats, v: Floats, tau2: float) -> float:
    mean, _ = _weighted(y, v, tau2)
    return float(np.sum((y - mean) ** 2 / (v + tau2)))


def _typical(v: Floats) -> float:
    """The within-unit variance that stands for all (Higgins & Thompson 2002)."""
    w = 1 / v
    return float((v.size - 1) * w.sum() / (w.sum() ** 2 - np.sum(w * w)))


def _t(df: int, confidence: float) -> float:
    return float(stats.t.ppf((1 + confidence) / 2, df)) if df > 0 else float("inf")


def _dersimonian_laird(y: Floats, v: Floats) -> float:
    w = 1 / v
    return max(0.0, (_q(y, v, 0.0) - (y.size - 1)) / float(w.sum() - np.sum(w * w) / w.sum()))


def _paule_mandel(y: Floats, v: Floats) -> float:
    return _q_equals(y, v, float(y.size - 1))


def _q_equals(y: Floats, v: Floats, target: float) -> float:
    """The tau2 at which the weighted sum of squares is `target`; it falls with tau2, so zero where it starts below."""
    if _q(y, v, 0.0) <= target:
        return 0.0
    above = float(np.sum((y - y.mean()) ** 2)) / target  # Q(tau2) < sum of squares / tau2
    return float(optimize.brentq(lambda t: _q(y, v, t) - target, 0.0, above * (1 + 1e-9), xtol=1e-300, rtol=1e-12))


def _likelihood(restricted: bool) -> Callable[[Floats, Floats], float]:
    """An estimator that finds the highest point of the (restricted) likelihood on a grid, then the root of its slope:
    the likelihood may have two peaks, and a plain iteration stops at the nearer one.
    """

    def estimate(y: Floats, v: Floats) -> float:
        def slope(tau2: float) -> float:
            w = 1 / (v + tau2)
            mean = w @ y / w.sum()
            lost = np.sum(w * w) / w.sum() if restricted else 0.0
            return float(np.sum((w * (y - mean)) ** 2) - w.sum() + lost)

        top = float(np.ptp(y) ** 2) + float(v.max())
        grid = np.concatenate(([0.0], np.geomspace(1e-6 * min(float(v.min()), top), top, 61)))
        best = int(np.argmax(_log_likelihoods(y, v, grid, restricted)))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
        if best == 0 and slope(0.0) <= 0:
            return 0.0
        if not slope(low) > 0 > slope(high):
            return float(grid[best])
        return float(optimize.brentq(slope, low, high, xtol=1e-300, rtol=1e-12))

    return estimate


def _log_likelihoods(y: Floats, v: Floats, tau2: Floats, restricted: bool) -> Floats:
    """Twice the log-likelihood, but for a constant, at each of `tau2`."""
    w = 1 / (v[:, None] + tau2)
    total = w.sum(axis=0)
    whole = np.log(w).sum(axis=0) - np.sum(w * (y[:, None] - y @ w / total) ** 2, axis=0)
    return np.asarray(whole - np.log(total) if restricted else whole, np.float64)


_TAU2: dict[Method, Callable[[Floats, Floats], float]] = {
    "DL": _dersimonian_laird,
    "REML": _likelihood(restricted=True),
    "ML": _likelihood(restricted=False),
    "PM": _paule_mandel,
}
