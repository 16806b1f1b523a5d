"""Moderated variances where a few units are far noisier than the rest.

Phipson, Lee, Majewski, Alexander and Smyth (2016), Ann. Appl. Stat. 10, 946–963: the prior is fitted to Winsorised log variances
(their moments by Gauss quadrature), and units whose variance the prior cannot explain keep less of it.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import interpolate, special, stats

from evenhand.stats.moderated import Moderated, combine, fit_prior

Floats = npt.NDArray[np.float64]
Tails = tuple[float, float]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(128)
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2
#: Grid of d0 / (1 + d0) that the Winsorised moments are tabled on; its last point is d0 = infinity.
_LINKED = np.concatenate([np.geomspace(0.02, 0.5, 120, endpoint=False), np.linspace(0.5, 1.0, 381)])
_LEAST = 1e-300


def moderate_robustly(variances: npt.ArrayLike, df: npt.ArrayLike, tails: Tails = (0.05, 0.1)) -> Moderated:
    """Share variances across units so that hypervariable ones neither spoil the prior nor are pulled down by it.

    Parameters
    ----------
    variances : (..., units), not negative. df : (units,) or a number, > 0. tails : shares Winsorised at the low and the high end.
    Fewer units than 1/tail have nothing to Winsorise: the plain form is returned.
    """
    given = np.asarray(variances, dtype=np.float64)
    s2 = given.reshape(-1, given.shape[-1])
    d = np.broadcast_to(np.asarray(df, dtype=np.float64), s2.shape[-1:])
    prior_variance, plain_df = fit_prior(s2, d)
    kept = np.repeat(plain_df[:, None], s2.shape[1], axis=1)
    unlike = np.isfinite(plain_df) & (np.median(s2, axis=1) > 0) & (max(tails) >= 1 / s2.shape[1])
    if unlike.any():
        prior_variance[unlike], kept[unlike] = _robust_prior(s2[unlike], d, prior_variance[unlike], plain_df[unlike], tails)
    found = combine(s2, d, prior_variance, kept)
    shape = given.shape
    return Moderated(found.posterior.reshape(shape), prior_variance.reshape(shape[:-1]), kept.reshape(shape))


def _robust_prior(s2: Floats, d: Floats, plain_variance: Floats, plain_df: Floats, tails: Tails) -> tuple[Floats, Floats]:
    """(prior variance (S,), prior df (S, units)) of S problems whose plain prior df is finite."""
    floor = np.median(s2, axis=1, keepdims=True) * 1e-12
    log_s2 = np.log(_at_common_df(np.maximum(s2, floor), d, plain_variance, plain_df))
    common = float(d.max())
    trend = np.asarray(stats.trim_mean(log_s2, tails[1], axis=1))[:, None]
    ends: Floats = np.asarray(np.quantile(log_s2 - trend, [tails[0], 1 - tails[1]], axis=1), dtype=np.float64)
    clipped = np.clip(log_s2 - trend, ends[0, :, None], ends[1, :, None])
    table = _moments_table(round(common, 9), tails)
    bulk = _bulk_df(clipped.var(axis=1, ddof=1), plain_df, table)
    log_scale = trend[:, 0] + clipped.mean(axis=1) - table.mean(_linked(bulk))
    return np.exp(log_scale), _shrunken_df(np.exp(log_s2 - log_scale[:, None]), common, bulk)


def _at_common_df(s2: Floats, d: Floats, scale: Floats, prior_df: Floats) -> Floats:
    """Variances as they would be with the largest df: the same tail probability under the F distribution."""
    few = d < d.max() * (1 - 1e-9)
    if not few.any():
        return s2
    ratio = s2[:, few] / scale[:, None]
    upper = stats.f.sf(ratio, d[few], prior_df[:, None])
    lower = stats.f.cdf(ratio, d[few], prior_df[:, None])
    as_upper = stats.f.isf(upper, d.max(), prior_df[:, None])
    as_lower = stats.f.ppf(lower, d.max(), prior_df[:, None])
    out = s2.copy()
    out[:, few] = np.where(upper < lower, as_upper, as_lower) * scale[:, None]
    return out


class _Moments:
    """Mean and variance of Winsorised log F as functions of d0 / (1 + d0)."""

    def __init__(self, mean: Floats, variance: Floats) -> None:
        self.mean = interpolate.CubicSpline(_LINKED, mean)
        self.variance = interpolate.CubicSpline(_LINKED, np.log(variance))
        self.grid_log_variance = np.log(variance)


@lru_cache(maxsize=64)
def _moments_table(df: float, tails: Tails) -> _Moments:
    moments = np.array([_winsorised_moments(df, float(_df_of(np.asarray(linked))), tails) for linked in _LINKED])
    return _Moments(moments[:, 0], moments[:, 1])


def _winsorised_moments(df: float, prior_df: float, tails: Tails) -> tuple[float, float]:
    """Mean and variance of log F(df, prior_df), Winsorised at the given tail probabilities."""
    shares = np.asarray(tails)
    below = np.array([tails[0], 1 - tails[1]])
    endless = np.isinf(prior_df)
    ends = special.chdtri(df, 1 - below) / df if endless else special.fdtri(df, prior_df, below)
    linked = ends / (1 + ends)
    width = linked[1] - linked[0]
    nodes = linked[0] + width * _NODES
    ratio = nodes / (1 - nodes)
    density = stats.chi2.pdf(ratio * df, df) * df if endless else stats.f.pdf(ratio, df, prior_df)
    weights = width * _WEIGHTS * density / (1 - nodes) ** 2
    at_ends = np.log(ends)
    mean = float(weights @ np.log(ratio) + at_ends @ shares)
    return mean, float(weights @ (np.log(ratio) - mean) ** 2 + (at_ends - mean) ** 2 @ shares)


def _linked(df: Floats) -> Floats:
    return np.asarray(np.where(np.isinf(df), 1.0, df / (1 + np.where(np.isinf(df), 0.0, df))))


def _df_of(linked: Floats) -> Floats:
    return np.asarray(np.divide(linked, 1 - linked, out=np.full(linked.shape, np.inf), where=linked < 1))


def _bulk_df(variance: Floats, plain_df: Floats, table: _Moments) -> Floats:
    """The prior df whose Winsorised variance is the one seen, by bisection; not below that of the plain fit."""
    wanted = np.log(np.maximum(variance, _LEAST))
    low = np.clip(_linked(plain_df), _LINKED[0], 1.0)
    high = np.ones_like(low)
    alike = wanted <= table.grid_log_variance[-1]
    plain = wanted >= table.variance(low)
    for _ in range(50):
        middle = (low + high) / 2
        wider = table.variance(middle) > wanted
        low, high = np.where(wider, middle, low), np.where(wider, high, middle)
    return np.asarray(np.where(alike, np.inf, np.where(plain, plain_df, _df_of((low + high) / 2))))


def _shrunken_df(ratio: Floats, df: float, bulk: Floats) -> Floats:
    """Prior df of each unit: lower where its variance is further out than the prior and its rank explain."""
    units = ratio.shape[1]
    endless = np.isinf(bulk)[:, None]
    prior = np.where(endless, 1.0, bulk[:, None])
    tail = np.where(endless, special.chdtrc(df, ratio * df), special.fdtrc(df, prior, ratio))
    log_tail = np.log(np.maximum(tail, _LEAST))
    rank = stats.rankdata(ratio, axis=1)
    fits = np.exp(np.minimum(log_tail - np.log((units - rank + 0.5) / units), 0.0))
    order = np.argsort(log_tail, axis=1, kind="stable")
    outlier = np.log(0.5) / log_tail.min(axis=1, keepdims=True) * prior
    again = np.log(np.maximum(special.fdtrc(df, outlier, ratio.max(axis=1, keepdims=True)), _LEAST))
    outlier = np.log(0.5) / again * outlier
    kept = np.where(endless, np.where(fits < 1, fits * units * df, np.inf), fits * prior + (1 - fits) * outlier)
    ordered = np.take_along_axis(kept, order, axis=1)
    running = np.cumsum(np.where(np.isinf(ordered), 0.0, ordered), axis=1) / np.arange(1, units + 1)
    least = np.argmin(running, axis=1)[:, None]
    levelled = np.where(np.arange(units) <= least, np.take_along_axis(running, least, axis=1), ordered)
    ordered = np.maximum.accumulate(np.where(endless, ordered, levelled), axis=1)
    kept[np.arange(kept.shape[0])[:, None], order] = ordered
    explained = (fits >= 1).all(axis=1, keepdims=True)
    return np.asarray(np.where(explained, bulk[:, None], kept))
