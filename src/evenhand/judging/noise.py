"""The two parts of the noise between visits, and the standard error and degrees of freedom of any contrast that follow.

Works on many studies of one layout at once: S is the number of studies, 1 in `judge`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.layout import Layout
from evenhand.judging.setup_noise import setup_ratios
from evenhand.stats.moderated import combine, most_prior_df
from evenhand.stats.moderated_robust import moderate_robustly

Floats = npt.NDArray[np.float64]

#: A title's part of a contrast's variance below this share of the visits' part is rounding.
_SMALL = 1e-9
_LEAST = 1e-300
#: The titles' variances hold the noise of a noisy setup until it is evened out, which needs its ratio: found in so many turns.
_PASSES = 3


@dataclass(frozen=True, slots=True, eq=False)
class VisitNoise:
    """Variance parts of S studies.

    total : (S,), s²_Z, what the visits' shared differences amount to: σ²_V + Σ h_t ω²_t. total_df : its degrees of freedom.
    shift : (S,), σ²_V, not below 0. raw, own : (S, T), a title's own residual variance before and after sharing between titles.
    own_df : (S, T), degrees of freedom of `own`; 0 where there is none (one title: all noise is in `total`).
    prior_df : (S, T). setups : (S, C), a setup's own noise as a ratio (of variances) to that of all; 1 where the setups are no
    more unlike than chance.
    """

    total: Floats
    total_df: float
    shift: Floats
    raw: Floats
    own: Floats
    own_df: Floats
    prior_df: Floats
    setups: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Estimates:
    """K contrasts of S studies: estimate, se, df (S, K). df is 0 and se infinite where visits and setups cannot be told apart.

    shift_share : (K,), the multiple of σ²_V that the variance holds.
    """

    estimate: Floats
    se: Floats
    df: Floats
    shift_share: Floats


@dataclass(frozen=True, slots=True, eq=False)
class VarianceParts:
    """How the variance of K contrasts of S studies comes about (`variance_parts`).

    shift_weight : (K,), a, the multiple of s²_Z. own_weights : (K, T), c_t, those of the titles' own ω²_t. own_ratio,
    shift_ratio : (S, K), how much noisier the setups concerned are than all, in both parts. from_visits, from_titles, taken :
    (S, K), a s²_Z, the sum of the positive c_t ω²_t, and that of the negative ones. share : (S, K), w. unsure : (S, K), relative
    variance of own_ratio. shift_df, own_df : (S, K), f_Z and f_own, both fewer where setups are unlike.
    """

    shift_weight: Floats
    own_weights: Floats
    own_ratio: Floats
    shift_ratio: Floats
    from_visits: Floats
    from_titles: Floats
    taken: Floats
    variance: Floats
    share: Floats
    unsure: Floats
    shift_df: Floats
    own_df: Floats
    df: Floats


def visit_noise(layout: Layout, means: Floats) -> VisitNoise:
    """Variance parts from visit means (S, N) in the layout's order.

    Sum of squares along the shifts' space, and along what the shifts leave of each title (Henderson's third method); where setups
    are unlike in the latter, it is evened out first; the titles' own variances are then moderated (Smyth 2004; from ten titles on
    in the robust form of Phipson et al. 2016).
    """
    titles = layout.shape[0]
    centred = _within_cells(layout, means)
    total = ((centred @ layout.shift_basis) ** 2).sum(axis=1) / layout.shift_scale
    rest = centred - (centred @ layout.own_basis) @ layout.own_basis.T
    raw = _raw(layout, rest**2)
    own, own_df, prior_df = _share(layout, raw)
    setups = setup_ratios(layout, rest, own)
    unlike = (setups != 1.0).any(axis=1)
    for _ in range(_PASSES if unlike.any() else 0):
        raw[unlike] = _raw(layout, rest[unlike] ** 2 / setups[unlike][:, layout.setup])
        own[unlike], own_df[unlike], prior_df[unlike] = _share(layout, raw[unlike])
        setups[unlike] = setup_ratios(layout, rest[unlike], own[unlike], known_unlike=True)
    shift = np.maximum(total - own @ layout.own_in_shift, 0.0) if titles > 1 else total
    return VisitNoise(total, layout.shift_df, shift, raw, own, own_df, prior_df, setups)


def _raw(layout: Layout, squares: Floats) -> Floats:
    """(S, T): each title's variance from its squared residuals (S, N); 0 where it has none."""
    scale = np.where(layout.own_scale > 0, layout.own_scale, np.inf)
    return np.asarray(_per_title(layout, squares) / scale)


def own_of_visits(layout: Layout, noise: VisitNoise) -> Floats:
    """(S, N): the titles' own variance in each visit mean."""
    return np.asarray(noise.own[:, layout.title] * noise.setups[:, layout.setup])


def correlations(layout: Layout, noise: VisitNoise, rows: Floats) -> Floats:
    """(K, K): correlation of the contrasts `rows` (K, N) under the studies' mean noise; equal noise where all of it is 0."""
    shift, own = float(noise.shift.mean()), own_of_visits(layout, noise).mean(axis=0)
    if shift <= 0 and not own.any():
        shift, own = 1.0, np.ones_like(own)
    shared = per_visit(layout, rows)
    covariance = shift * shared @ shared.T + (rows * own) @ rows.T
    root = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(root, root))


def per_visit(layout: Layout, rows: Floats) -> Floats:
    """(K, visits present): weight of each visit's shared shift."""
    place = layout.setup * layout.shape[2] + layout.visit
    order = np.argsort(place, kind="stable")
    starts = np.flatnonzero(np.diff(place[order], prepend=-1))
    return np.asarray(np.add.reduceat(rows[:, order], starts, axis=1))


def _within_cells(layout: Layout, means: Floats) -> Floats:
    _, setups, _ = layout.shape
    cell = layout.title * setups + layout.setup
    sums = _sums(means, cell, layout.shape[0] * setups)
    count = np.bincount(cell, minlength=layout.shape[0] * setups)
    return np.asarray(means - (sums / np.maximum(count, 1))[:, cell])


def _per_title(layout: Layout, values: Floats) -> Floats:
    """(..., N) -> (..., T)."""
    return _sums(values, layout.title, layout.shape[0])


def _sums(values: Floats, index: npt.NDArray[np.intp], count: int) -> Floats:
    """Sums of the columns (K, N) that share an index (N,), which ascends; (K, count)."""
    starts = np.flatnonzero(np.diff(index, prepend=-1))
    sums = np.zeros((values.shape[0], count))
    sums[:, index[starts]] = np.add.reduceat(values, starts, axis=1)
    return sums


def _share(layout: Layout, raw: Floats) -> tuple[Floats, Floats, Floats]:
    """(own, own df, prior df), each (S, T): one title none, two pooled, more moderated; a title without residuals of its own gets
    the prior.

    A title never gets more degrees of freedom than all titles' residuals hold together. Residuals are measured from the mean of
    the T titles and hold ω²_t only to 1 − 2/T, the rest being the mean of all: what a title is above that mean is raised again.
    """
    d = layout.own_df
    has = d > 0
    if not has.any():
        none = np.zeros_like(raw)
        return none, none, none
    pooled_df = _pooled_df(layout)
    if has.sum() <= 2:
        pooled = (raw * d).sum(axis=1, keepdims=True) / d.sum()
        return np.repeat(pooled, d.size, axis=1), np.full(raw.shape, pooled_df), np.full(raw.shape, np.inf)
    shared = moderate_robustly(raw[:, has], d[has])
    own = np.repeat(shared.prior_variance[:, None], d.size, axis=1)
    prior = np.repeat(shared.prior_df.max(axis=1, keepdims=True), d.size, axis=1)
    prior[:, has] = np.minimum(shared.prior_df, most_prior_df(d[has]))
    own[:, has] = combine(raw[:, has], d[has], shared.prior_variance, prior[:, has]).posterior
    own += np.maximum(own - own[:, has].mean(axis=1, keepdims=True), 0.0) / (has.sum() - 2)
    return own, np.minimum(d + prior, pooled_df), prior


def contrast_weights(layout: Layout, title_weights: Floats, setup_weights: Floats) -> Floats:
    """(K, N): row k weighs the visits for Σ_t title_weights[k, t] Σ_c setup_weights[k, c] A_tc."""
    contrast, title = np.nonzero(title_weights)
    scaled = title_weights[contrast, title, None] * setup_weights[contrast]
    rows = np.zeros((title_weights.shape[0], layout.title.size))
    if contrast.size:
        starts = np.flatnonzero(np.diff(contrast, prepend=-1))
        rows[contrast[starts]] = np.add.reduceat(np.einsum("ic,icn->in", scaled, layout.weights[title]), starts, axis=0)
    return rows


def estimates(layout: Layout, noise: VisitNoise, means: Floats, rows: Floats) -> Estimates:
    """Estimate, standard error and degrees of freedom of the contrasts with weights `rows` (K, N); see `variance_parts`."""
    if noise.total_df <= 0:
        nothing = np.zeros((means.shape[0], rows.shape[0]))
        return Estimates(means @ rows.T, nothing + np.inf, nothing, (per_visit(layout, rows) ** 2).sum(axis=1))
    parts = variance_parts(layout, noise, rows)
    return Estimates(means @ rows.T, np.sqrt(parts.variance), parts.df, parts.shift_weight)


def variance_parts(layout: Layout, noise: VisitNoise, rows: Floats) -> VarianceParts:
    """What the variance of the contrasts with weights `rows` (K, N) and its degrees of freedom are made of; needs total_df > 0.

    Var = a σ²_V + Σ b_t ω²_t and σ²_V = s²_Z − Σ h_t ω²_t, so Var = a s²_Z + Σ c_t ω²_t with c_t = b_t − a h_t: two independent
    parts, with f_Z degrees of freedom and, by Satterthwaite (1946), f_own. It is not below Σ max(c_t, 0) ω²_t, which it would be
    without any shift. See `combined_df` for the whole.
    """
    a = (per_visit(layout, rows) ** 2).sum(axis=1)
    coefficient = _per_title(layout, rows**2) - a[:, None] * layout.own_in_shift
    coefficient[np.abs(coefficient) < _SMALL * a[:, None]] = 0.0
    added = np.maximum(coefficient, 0.0)
    ratio, shift_ratio, unsure, shift_df = _of_setups(layout, noise, rows)
    from_visits, from_titles = noise.total[:, None] * a * shift_ratio, noise.own @ added.T * ratio
    taken = noise.own @ np.minimum(coefficient, 0.0).T * ratio
    variance = from_titles + np.maximum(from_visits + taken, 0.0)
    known = np.where(noise.own_df > 0, noise.own_df, np.inf)
    own_df = _ratio((noise.own @ added.T) ** 2, (noise.own**2 / known) @ (added**2).T, np.inf)
    own_df = _ratio(np.ones_like(unsure), 1.0 / np.minimum(own_df, _pooled_df(layout)) + unsure, np.inf)
    share = np.minimum(_ratio(from_visits, variance, 1.0), 1.0)
    df = combined_df((share, 1.0 - share), (shift_df, own_df))
    return VarianceParts(
        a, coefficient, ratio, shift_ratio, from_visits, from_titles, taken, variance, share, unsure, shift_df, own_df, df
    )


def _of_setups(layout: Layout, noise: VisitNoise, rows: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """(S, K) each: how much noisier the setups of a contrast are than all, in the titles' own part of its variance and in the
    visits' part, of which only what the titles' noise adds differs; the relative variance of the former;
    and the visits' degrees of freedom, fewer where setups are unlike (by the mean over the root mean square of their variances,
    which simulation chose over its square) and their ratios not well known.
    """
    if (noise.setups == 1.0).all():
        alike = np.ones((noise.setups.shape[0], rows.shape[0]))
        return alike, alike, np.zeros_like(alike), noise.total_df * alike
    there = layout.present.any(axis=(0, 2))
    squares = (rows**2 @ np.equal.outer(layout.setup, np.arange(layout.shape[1])))[:, there]
    parts = squares / np.maximum(squares.sum(axis=1, keepdims=True), _LEAST)
    setups = noise.setups[:, there]
    ratio = setups @ parts.T
    known = np.where(layout.setup_df > 0, layout.setup_df, np.inf)[there]
    unlike = (setups != 1.0).any(axis=1, keepdims=True)
    unsure = unlike * _doubt(setups, parts, ratio, known)
    from_own = (noise.own @ layout.own_in_shift)[:, None]
    shift = noise.shift[:, None]
    by_setup = shift + setups * from_own
    even = _ratio(by_setup.mean(axis=1, keepdims=True), np.sqrt((by_setup**2).mean(axis=1, keepdims=True)), 1.0)
    scaled = shift + ratio * from_own
    own_share = _ratio(ratio * from_own, scaled, 0.0)
    return ratio, _ratio(scaled, shift + from_own, 1.0), unsure, 1.0 / (1.0 / (noise.total_df * even) + unsure * own_share**2)


def _doubt(setups: Floats, parts: Floats, ratio: Floats, known: Floats) -> Floats:
    """(S, K): 2 Σ (π_c − 1/C)² / g_c, the relative variance of the mean ratio (S, K), π_c being the part of it from setup c: an
    error of r_c moves a contrast's ratio by π_c and the titles' variances, evened by all setups alike, by 1/C the other way.

    Satterthwaite would have half of it in 1/df. As the ratios are looked for only where they came out unlike, they lie further
    apart than the truth, and by simulation the whole is right.
    """
    total = np.zeros_like(ratio)
    for c in range(setups.shape[1]):
        share = _ratio(setups[:, c, None] * parts[:, c], ratio, 0.0)
        total += 2.0 * (share - 1.0 / setups.shape[1]) ** 2 / known[c]
    return total


def combined_df(shares: tuple[Floats, Floats], dfs: tuple[npt.ArrayLike, npt.ArrayLike]) -> Floats:
    """Degrees of freedom of the sum of two independent variances that have these shares of it and these degrees of freedom.

    1/df = max(w^p(f)/f of either, 1 / (f_1 + f_2)) with p(f) = 2 f / (f + 2). Satterthwaite adds w²/f of both; but a share that
    came out low by chance makes the variance too small and the df too large at once, the more so the smaller f is (the
    Behrens–Fisher problem). This keeps the coverage, by quadrature, within half a per cent wherever the true share lies, one
    where f is 2, two and a half where it is 1 (docs/methods/visits-and-rounds.md).
    """
    first, second = (np.asarray(df, dtype=np.float64) for df in dfs)
    alone = np.maximum(shares[0] ** _power(first) / first, shares[1] ** _power(second) / second)
    return np.asarray(1.0 / np.maximum(alone, 1.0 / (first + second)))


def _power(df: Floats) -> Floats:
    return np.asarray(2.0 / (1.0 + 2.0 / df))


def _pooled_df(layout: Layout) -> float:
    """Degrees of freedom of all titles' residuals together; infinite where there are none."""
    titles = int(np.count_nonzero(layout.own_df))
    return float(layout.own_df.sum() * (1.0 - 1.0 / max(titles, 2))) if titles else np.inf


def _ratio(above: Floats, below: Floats, where_zero: float) -> Floats:
    return np.asarray(np.divide(above, below, out=np.full(above.shape, where_zero), where=below > 0))
