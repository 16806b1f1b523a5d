"""Moderated variances: variances of many units shared by an empirical-Bayes prior, so that few degrees of freedom become more.

Smyth (2004), Stat. Appl. Genet. Mol. Biol. 3(1), article 3, section 6.2; robust form: Phipson, Lee, Majewski, Alexander and Smyth
(2016), Ann. Appl. Stat. 10, 946–963 (`moderated_robust.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Moderated:
    """Moderated variances of `units` along the last axis; leading axes are separate problems.

    posterior : (..., units). prior_variance : (...). prior_df : (..., units), inf where the variances are no more unlike than
    chance; the same for all units unless the robust form lowered it for outlying ones.
    """

    posterior: Floats
    prior_variance: Floats
    prior_df: Floats


def combine(s2: Floats, d: Floats, prior_variance: Floats, prior_df: Floats) -> Moderated:
    """Posterior variances (d0 s0² + d s²) / (d0 + d); s0² where d0 is infinite. d : (units,), > 0."""
    endless = np.isinf(prior_df)
    weight = np.where(endless, 0.0, prior_df)
    s02 = prior_variance[..., None]
    posterior = np.where(endless, s02, (weight * s02 + d * s2) / (weight + d))
    return Moderated(posterior, prior_variance, prior_df)


def fit_prior(variances: Floats, df: Floats) -> tuple[Floats, Floats]:
    """(prior variance, prior df) by matching the first two moments of log variances; each of shape (...)."""
    units = variances.shape[-1]
    if units < 2:
        raise ValueError("a prior needs the variances of at least two units")
    s2 = _without_zeros(variances)
    e = np.log(s2) - special.digamma(df / 2) + np.log(df / 2)
    centre = e.mean(axis=-1)
    spread = ((e - centre[..., None]) ** 2).sum(axis=-1) / (units - 1) - special.polygamma(1, df / 2).mean()
    unlike = spread > 0
    half = trigamma_inverse(np.where(unlike, spread, 1.0))
    shared = np.exp(centre + special.digamma(half) - np.log(half))
    prior_df = np.where(unlike, 2 * half, np.inf)
    prior_variance = np.where(unlike, shared, (variances * df).sum(axis=-1) / df.sum())
    return prior_variance, prior_df


def most_prior_df(df: Floats) -> float:
    """The prior df that variances on `df` (units,) can give reason for: that of a spread of their logarithms half a standard
    error above chance (simulation chose the half). Variances that look alike are no proof that they are.
    """
    units, half = df.size, df / 2
    by_chance = special.polygamma(1, half).mean()
    error = math.sqrt((special.polygamma(3, half).mean() + 2 * by_chance**2 * units / (units - 1)) / units)
    return float(2 * trigamma_inverse(error / 2))


def _without_zeros(variances: Floats) -> Floats:
    """A variance of exactly 0 has no logarithm: it is raised to a hundred-thousandth of the middle one (of 1 if that is 0)."""
    middle = np.median(variances, axis=-1, keepdims=True)
    floor = np.where(middle > 0, 1e-5 * middle, np.where(variances.max(axis=-1, keepdims=True) > 0, 1e-300, 1.0))
    return np.asarray(np.maximum(variances, floor))


def trigamma_inverse(x: npt.ArrayLike) -> Floats:
    """y with trigamma(y) = x > 0, by Newton's method on 1/trigamma (Smyth 2004, appendix); relative error below 1e-10."""
    target = np.asarray(x, dtype=np.float64)
    y = 0.5 + 1.0 / target
    for _ in range(12):
        value = special.polygamma(1, y)
        step = value * (1.0 - value / target) / special.polygamma(2, y)
        y = y + step
        if np.all(np.abs(step) < 1e-12 * y):
            break
    return np.asarray(y)
