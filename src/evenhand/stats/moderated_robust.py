"""Moderated variances where a few units are far noisier than the rest.

Phipson, Lee, Majewski, Alexander and Smyth (2016), Ann. Appl. Stat. 10, 946–963: the prior is fitted to Winsorised log variances
(their moments by Gauss quadrature), and units whose variance the prior cannot explain keep less of it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import optimize, special, stats

from evenhand.stats.moderated import Moderated, combine, fit_prior

Floats = npt.NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(128)
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


def moderate_robustly(variances: npt.ArrayLike, df: npt.ArrayLike, tails: tuple[float, float] = (0.05, 0.1)) -> Moderated:
    """Share variances across units so that hypervariable ones neither spoil the prior nor are pulled down by it.

    Parameters
    ----------
    variances : (units,), not negative. df : (units,) or a number, > 0. tails : shares Winsorised at the low and the high end.
    Fewer units than 1/tail have nothing to Winsorise: the plain form is returned.
    """
    s2 = np.asarray(variances, dtype=np.float64)
    d = np.broadcast_to(np.asarray(df, dtype=np.float64), s2.shape)
    middle = np.median(s2)
    plain_variance, plain_df = fit_prior(s2, d)
    if max(tails) < 1 / s2.size or middle <= 0 or np.isinf(plain_df):
        return combine(s2, d, plain_variance, np.full(s2.shape, float(plain_df)))
    log_s2 = np.log(_at_common_df(np.maximum(s2, middle * 1e-12), d, float(plain_variance), float(plain_df)))
    common = float(d.max())
    trend = stats.trim_mean(log_s2, tails[1])
    low, high = np.quantile(log_s2 - trend, [tails[0], 1 - tails[1]])
    clipped = np.clip(log_s2 - trend, low, high)
    bulk = _prior_df(float(clipped.var(ddof=1)), common, float(plain_df), tails)
    log_scale = trend + clipped.mean() - _winsorised_moments(common, bulk, tails)[0]
    kept = _shrunken_df(np.exp(log_s2 - log_scale), common, bulk)
    return combine(s2, d, np.asarray(np.exp(log_scale)), kept)


def _at_common_df(s2: Floats, d: Floats, scale: float, prior_df: float) -> Floats:
    """Variances as they would be with the largest df: the same tail probability under the F distribution."""
    few = d < d.max() - 1e-14
    if not few.any():
        return s2
    ratio = s2[few] / scale
    upper = stats.f.sf(ratio, d[few], prior_df)
    lower = stats.f.cdf(ratio, d[few], prior_df)
    same = np.where(upper < lower, stats.f.isf(upper, d.max(), prior_df), stats.f.ppf(lower, d.max(), prior_df))
    out = s2.copy()
    out[few] = same * scale
    return out


def _f_quantile(p: Floats, df: float, prior_df: float) -> Floats:
    if np.isinf(prior_df):
        return np.asarray(stats.chi2.ppf(p, df) / df)
    return np.asarray(stats.f.ppf(p, df, prior_df))


def _winsorised_moments(df: float, prior_df: float, tails: tuple[float, float]) -> tuple[float, float]:
    """Mean and variance of log F(df, prior_df), Winsorised at the given tail probabilities."""
    ends = _f_quantile(np.array([tails[0], 1 - tails[1]]), df, prior_df)
    linked = ends / (1 + ends)
    width = linked[1] - linked[0]
    nodes = linked[0] + width * _NODES
    ratio = nodes / (1 - nodes)
    density = stats.chi2.pdf(ratio * df, df) * df if np.isinf(prior_df) else stats.f.pdf(ratio, df, prior_df)
    weights = width * _WEIGHTS * density / (1 - nodes) ** 2
    at_ends, shares = np.log(ends), np.asarray(tails)
    mean = float(weights @ np.log(ratio) + at_ends @ shares)
    return mean, float(weights @ (np.log(ratio) - mean) ** 2 + (at_ends - mean) ** 2 @ shares)


def _prior_df(variance: float, df: float, plain_df: float, tails: tuple[float, float]) -> float:
    """The prior df whose Winsorised variance is the one seen, not below that of the plain fit."""

    def excess(linked: float) -> float:
        prior_df = np.inf if linked >= 1 else linked / (1 - linked)
        return float(np.log(variance / _winsorised_moments(df, prior_df, tails)[1]))

    start = plain_df / (1 + plain_df)
    if excess(1.0) <= 0:
        return np.inf
    if excess(start) >= 0:
        return plain_df
    root = float(optimize.brentq(excess, start, 1.0, xtol=1e-12))
    return root / (1 - root)


def _shrunken_df(ratio: Floats, df: float, bulk: float) -> Floats:
    """Prior df of each unit: lower where its variance is further out than the prior and its rank explain."""
    units = ratio.size
    log_tail = stats.chi2.logsf(ratio * df, df) if np.isinf(bulk) else stats.f.logsf(ratio, df, bulk)
    expected = np.log(units - stats.rankdata(ratio) + 0.5) - np.log(units)
    log_fits = np.minimum(log_tail - expected, 0.0)
    fits = np.exp(log_fits)
    order = np.argsort(log_tail, kind="stable")
    if np.isinf(bulk):
        kept = np.where(fits < 1, fits * units * df, np.inf)
        kept[order] = np.maximum.accumulate(kept[order])
        return kept
    if not (log_fits < 0).any():
        return np.full(units, bulk)
    outlier = np.log(0.5) / log_tail.min() * bulk
    outlier *= np.log(0.5) / stats.f.logsf(ratio.max(), df, outlier)
    kept = fits * bulk + special.expm1(log_fits) * -outlier
    ordered = kept[order]
    running = np.cumsum(ordered) / np.arange(1, units + 1)
    least = int(np.argmin(running))
    ordered[: least + 1] = running[least]
    kept[order] = np.maximum.accumulate(ordered)
    return np.asarray(kept)
