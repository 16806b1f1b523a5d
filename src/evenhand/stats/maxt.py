"""Quantiles of the largest of several correlated |t|: what makes a set of intervals simultaneous (single-step max-t).

All pairs of k means with equal variances: the studentised range (Tukey 1953), by quadrature. Any other correlation: quasi-random
normal draws with a fixed seed (Hothorn, Bretz & Westfall 2008, Biometrical Journal 50, 346–363, use the same multivariate t).
One mean against all others, one-sided (Dunnett 1955, JASA 50, 1096–1121), by quadrature too.
Both are reduced to the distribution of M = max |z| and mixed over the common chi, so that any positive df, whole or not, costs
little. Quantiles at many df are interpolated from an exact grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import integrate, interpolate, optimize, special, stats

Floats = npt.NDArray[np.float64]

_POINTS = 14  # 2^14 quasi-random draws
_STRATA = 1024  # equally likely classes that the draws of M are averaged in
_GRID_DF = np.array(
    [0.5, 0.6, 0.7, 0.85, 1.0, 1.2, 1.4, 1.7, 2.0, 2.4, 3.0, 3.7, 4.5, 6.0, 8.0, 11.0, 16.0, 25.0, 50.0, 150.0, np.inf]
)
_PANELS = (0.0, 0.5, 0.9, 0.99, 0.9999, 1.0)
_SEED = 20_240_601
_WIDTH = np.linspace(0.0, 14.0, 1401)
_Z = np.linspace(-8.5, 8.5, 341)
_DENSITY = np.exp(-(_Z**2) / 2) / np.sqrt(2 * np.pi)


def pairs_quantile(means: int, df: npt.ArrayLike, confidence: float) -> Floats:
    """Two-sided critical value of |t| for all pairs of `means` independent means of equal variance.

    df : any shape, > 0 (raised to 0.5), may be inf. Exact to about 1e-4 relative; the studentised range quantile is √2 times it.
    With unequal variances of the means it errs on the safe side (Tukey–Kramer; Hayter 1984, Ann. Stat. 12, 61–75).
    """
    return _interpolated(_pairs_curve(means, round(confidence, 6)), df)


def quantile(correlation: npt.ArrayLike, df: npt.ArrayLike, confidence: float) -> Floats:
    """Two-sided critical value of the largest |t| of contrasts with this correlation matrix (k, k) and a common chi.

    df : any shape, > 0 (raised to 0.5), may be inf. Relative error about 1e-3; the same every time (fixed seed).
    """
    table = np.round(np.atleast_2d(np.asarray(correlation, dtype=np.float64)), 2)
    return _interpolated(_general_curve(table.tobytes(), table.shape[0], round(confidence, 6)), df)


def one_sided_quantile(correlation: npt.ArrayLike, df: npt.ArrayLike, confidence: float) -> Floats:
    """The same of the largest t itself, not |t|: one-sided. confidence : above 1/2, where the quantile is above 0."""
    table = np.round(np.atleast_2d(np.asarray(correlation, dtype=np.float64)), 2)
    return _interpolated(_one_sided_curve(table.tobytes(), table.shape[0], round(confidence, 6)), df)


def others_quantile(others: int, df: npt.ArrayLike, confidence: float) -> Floats:
    """One-sided critical value of one mean against `others` others, all independent and of equal variance (Dunnett 1955).

    df : any shape, > 0 (raised to 0.5), may be inf. Exact to about 1e-4 relative. confidence : above 1/2.
    """
    return _interpolated(_others_curve(others, round(confidence, 6)), df)


def alike_quantile(count: int, correlation: npt.ArrayLike, df: npt.ArrayLike, confidence: float) -> Floats:
    """Two-sided critical value of the largest |t| of `count` contrasts that all have one common correlation, and a common chi.

    correlation : in [0, 1], rounded down to a tenth (the safe side), 0.9 at most. df : as above, broadcast against it.
    """
    shared, degrees = np.broadcast_arrays(np.asarray(correlation, dtype=np.float64), np.asarray(df, dtype=np.float64))
    steps = np.clip(np.floor(shared * 10 + 1e-9), 0, 9).astype(np.intp)
    critical = np.empty(degrees.shape)
    for step in np.unique(steps):
        mine = steps == step
        critical[mine] = _interpolated(_alike_curve(count, int(step), round(confidence, 6)), degrees[mine])
    return critical


@dataclass(frozen=True, slots=True, eq=False)
class _Largest:
    """The distribution of M = max |z|, or of max z where above 0, as points in ascending order, each with its probability."""

    points: Floats
    weights: Floats

    def coverage(self, c: float, df: float) -> float:
        """P(M / s <= c) = E P(s >= M / c), with df s² chi-square on df."""
        if np.isinf(df):
            return float(np.interp(c, self.points, np.cumsum(self.weights) - self.weights / 2))
        return float(self.weights @ special.chdtrc(df, df * (self.points / c) ** 2)) if c > 0 else 0.0

    def quantile(self, df: float, confidence: float) -> float:
        """c with P(max |T| <= c) = confidence."""
        if np.isinf(df):
            return float(np.interp(confidence, np.cumsum(self.weights) - self.weights / 2, self.points))
        top = 4.0
        while self.coverage(top, df) < confidence:
            top *= 4.0
        return float(optimize.brentq(lambda c: self.coverage(c, df) - confidence, 0.0, top, xtol=1e-7))

    def curve(self, confidence: float) -> interpolate.CubicSpline:
        """log quantile as a smooth function of 1/df."""
        values = np.array([self.quantile(float(df), confidence) for df in _GRID_DF])
        return interpolate.CubicSpline(1.0 / _GRID_DF[::-1], np.log(values[::-1]))


def _interpolated(curve: interpolate.CubicSpline, df: npt.ArrayLike) -> Floats:
    inverse = 1.0 / np.maximum(np.asarray(df, dtype=np.float64), _GRID_DF[0])
    return np.asarray(np.exp(curve(inverse)))


@lru_cache(maxsize=64)
def _pairs_curve(means: int, confidence: float) -> interpolate.CubicSpline:
    return _of_pairs(means).curve(confidence)


@lru_cache(maxsize=512)
def _general_curve(table: bytes, size: int, confidence: float) -> interpolate.CubicSpline:
    return _of_correlation(np.frombuffer(table, dtype=np.float64).reshape(size, size)).curve(confidence)


@lru_cache(maxsize=512)
def _one_sided_curve(table: bytes, size: int, confidence: float) -> interpolate.CubicSpline:
    return _of_correlation(np.frombuffer(table, dtype=np.float64).reshape(size, size), one_sided=True).curve(confidence)


@lru_cache(maxsize=64)
def _others_curve(others: int, confidence: float) -> interpolate.CubicSpline:
    return _of_others(others).curve(confidence)


@lru_cache(maxsize=256)
def _alike_curve(count: int, step: int, confidence: float) -> interpolate.CubicSpline:
    return _of_alike(count, step / 10).curve(confidence)


def _of_alike(count: int, correlation: float) -> _Largest:
    """Largest |z| of `count` standard normals with one common correlation: given what they share, they are independent."""
    width, z = _WIDTH[::2], _Z[::2]
    below = special.ndtr((width[:, None] - np.sqrt(correlation) * z) / np.sqrt(1.0 - correlation))
    # z is symmetric, so the lower tail is what the upper one leaves, turned round.
    inside = np.maximum(below + below[:, ::-1] - 1.0, 0.0)
    return _of_distribution(integrate.simpson(_DENSITY[::2] * inside**count, x=z, axis=1), width)


def _of_pairs(means: int) -> _Largest:
    """Range of `means` standard normals over √2."""
    width, z = _WIDTH[:, None], _Z
    below = means * integrate.simpson(_DENSITY * (special.ndtr(z) - special.ndtr(z - width)) ** (means - 1), x=z, axis=1)
    return _of_distribution(below, _WIDTH / np.sqrt(2.0))


def _of_others(others: int) -> _Largest:
    """Largest of the differences of one standard normal from `others`, over √2, where it is above 0."""
    below = integrate.simpson(_DENSITY * special.ndtr(_Z + _WIDTH[:, None]) ** others, x=_Z, axis=1)
    return _of_distribution(below, _WIDTH / np.sqrt(2.0))


def _of_distribution(below: Floats, at: Floats) -> _Largest:
    """Of P(M <= at) = below: Gauss points in probability, in panels that are finer towards the tail."""
    nodes, shares = np.polynomial.legendre.leggauss(32)
    spans = np.diff(_PANELS)
    probability = np.concatenate([low + span * (nodes + 1) / 2 for low, span in zip(_PANELS, spans, strict=False)])
    weights = np.concatenate([span * shares / 2 for span in spans])
    rising = np.concatenate([[True], np.diff(np.maximum.accumulate(below)) > 0])
    return _Largest(np.interp(probability, below[rising], at[rising]), weights)


def _of_correlation(correlation: Floats, one_sided: bool = False) -> _Largest:
    """Classes of equally many quasi-random draws of max |z|, or of max z where above 0, with this correlation."""
    values, vectors = np.linalg.eigh((correlation + correlation.T) / 2)
    keep = values > 1e-9 * values.max()
    root = vectors[:, keep] * np.sqrt(values[keep])
    scale = np.sqrt((root**2).sum(axis=1, keepdims=True))
    uniform = stats.qmc.Sobol(int(keep.sum()), rng=_SEED).random_base2(_POINTS)
    normal = special.ndtri(np.clip(uniform, 1e-12, 1 - 1e-12))
    drawn = normal @ (root / scale).T
    largest = np.sort((np.maximum(drawn, 0.0) if one_sided else np.abs(drawn)).max(axis=1))
    return _Largest(largest.reshape(_STRATA, -1).mean(axis=1), np.full(_STRATA, 1.0 / _STRATA))
