"""The two parts of the noise between visits, and the standard error and degrees of freedom of any contrast that follow.

Works on many studies of one layout at once: S is the number of studies, 1 in `judge`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.layout import Layout
from evenhand.stats.moderated import moderate
from evenhand.stats.moderated_robust import moderate_robustly

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class VisitNoise:
    """Variance parts of S studies.

    total : (S,), s²_Z, what the visits' shared differences amount to: σ²_V + Σ h_t ω²_t. total_df : its degrees of freedom.
    shift : (S,), σ²_V, not below 0. raw, own : (S, T), a title's own residual variance before and after sharing between titles.
    own_df : (S, T), degrees of freedom of `own`; 0 where there is none (one title: all noise is in `total`).
    prior_df : (S, T).
    """

    total: Floats
    total_df: float
    shift: Floats
    raw: Floats
    own: Floats
    own_df: Floats
    prior_df: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Estimates:
    """K contrasts of S studies: estimate, se, df (S, K). df is 0 and se infinite where visits and setups cannot be told apart.

    shift_share : (K,), the multiple of σ²_V that the variance holds.
    """

    estimate: Floats
    se: Floats
    df: Floats
    shift_share: Floats


def visit_noise(layout: Layout, means: Floats, robust: bool = False) -> VisitNoise:
    """Variance parts from visit means (S, N) in the layout's order.

    Sum of squares along the shifts' space, and along what the shifts leave of each title (Henderson's third method); the titles'
    own variances are then moderated (Smyth 2004), in the robust form (Phipson et al. 2016) if asked.
    """
    titles = layout.shape[0]
    centred = _within_cells(layout, means)
    along = centred @ layout.shift_basis
    total = (along**2).sum(axis=1) / layout.shift_scale
    rest = centred - (centred @ layout.own_basis) @ layout.own_basis.T
    raw = _per_title(layout, rest**2) / np.where(layout.own_scale > 0, layout.own_scale, 1.0)
    raw = np.where(layout.own_scale > 0, raw, 0.0)
    own, own_df, prior_df = _share(layout, raw, robust)
    shift = np.maximum(total - own @ layout.own_in_shift, 0.0) if titles > 1 else total
    return VisitNoise(total, layout.shift_df, shift, raw, own, own_df, prior_df)


def correlations(layout: Layout, noise: VisitNoise, rows: Floats) -> Floats:
    """(K, K): correlation of the contrasts `rows` (K, N) under the first study's noise; of equal noise where all of it is 0."""
    own = noise.own[0][layout.title]
    shift, own = (float(noise.shift[0]), own) if noise.total[0] > 0 or own.any() else (1.0, np.ones_like(own))
    shared = _per_visit(layout, rows)
    covariance = shift * shared @ shared.T + (rows * own) @ rows.T
    root = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(root, root))


def _per_visit(layout: Layout, rows: Floats) -> Floats:
    """(K, C V): weight of each visit's shared shift."""
    place = layout.setup * layout.shape[2] + layout.visit
    shifted = np.zeros((layout.shape[1] * layout.shape[2], rows.shape[0]))
    np.add.at(shifted, place, rows.T)
    return np.asarray(shifted.T)


def _within_cells(layout: Layout, means: Floats) -> Floats:
    titles, setups, _ = layout.shape
    cell = layout.title * setups + layout.setup
    member = np.equal.outer(cell, np.arange(titles * setups)).astype(np.float64)
    average = (means @ member) / np.maximum(member.sum(axis=0), 1.0)
    return np.asarray(means - average[:, cell])


def _per_title(layout: Layout, values: Floats) -> Floats:
    member = np.equal.outer(layout.title, np.arange(layout.shape[0])).astype(np.float64)
    return np.asarray(values @ member)


def _share(layout: Layout, raw: Floats, robust: bool) -> tuple[Floats, Floats, Floats]:
    """(own, own df, prior df), each (S, T): one title none, two pooled, more moderated.

    A title never gets more degrees of freedom than all titles' residuals hold together.
    """
    d = layout.own_df
    having = int((d > 0).sum())
    if having == 0:
        none = np.zeros_like(raw)
        return none, none, none
    pooled_df = d.sum() * (1.0 - 1.0 / max(having, 2))
    if having <= 2:
        pooled = (raw * d).sum(axis=1, keepdims=True) / d.sum()
        return np.repeat(pooled, d.size, axis=1), np.full(raw.shape, pooled_df), np.full(raw.shape, np.inf)
    if robust:
        shared = [moderate_robustly(row[d > 0], d[d > 0]) for row in raw]
        prior = np.full(raw.shape, np.inf)
        own = np.array([[s.prior_variance] for s in shared]) * np.ones_like(raw)
        prior[:, d > 0] = [s.prior_df for s in shared]
        own[:, d > 0] = [s.posterior for s in shared]
    else:
        moderated = moderate(raw, d)
        own, prior = moderated.posterior, moderated.prior_df
    return own, np.minimum(d + prior, pooled_df), prior


def contrast_weights(layout: Layout, title_weights: Floats, setup_weights: Floats) -> Floats:
    """(K, N): row k weighs the visits for Σ_t title_weights[k, t] Σ_c setup_weights[k, c] A_tc."""
    titles, setups, _ = layout.shape
    cells = (title_weights[:, :, None] * setup_weights[:, None, :]).reshape(-1, titles * setups)
    return np.asarray(cells @ layout.weights.reshape(titles * setups, -1))


def estimates(layout: Layout, noise: VisitNoise, means: Floats, rows: Floats, over: bool = False) -> Estimates:
    """Estimate, standard error and Satterthwaite degrees of freedom of the contrasts with weights `rows` (K, N).

    Var = a σ²_V + Σ b_t ω²_t with σ²_V = s²_Z − Σ h_t ω²_t, so the parts are a s²_Z and (b_t − a h_t) ω²_t:
    df = Var² / (a² s⁴_Z / f_Z + Σ (b_t − a h_t)² ω⁴_t / f_t).
    over : the contrast is a mean over titles, whose own noise s²_Z already holds; then σ²_V is not truncated at 0.
    """
    a = (_per_visit(layout, rows) ** 2).sum(axis=1)
    b = _per_title(layout, rows**2)
    coefficient = b - a[:, None] * layout.own_in_shift
    if noise.total_df <= 0:
        nothing = np.zeros((means.shape[0], rows.shape[0]))
        return Estimates(means @ rows.T, nothing + np.inf, nothing, a)
    from_total = noise.total[:, None] * a
    untruncated = from_total + noise.own @ coefficient.T
    truncated = noise.shift[:, None] * a + noise.own @ b.T
    variance = np.maximum(untruncated, 0.0) if over or not (layout.own_df > 0).any() else truncated
    known = np.where(noise.own_df > 0, noise.own_df, np.inf)
    spread = from_total**2 / noise.total_df + (noise.own**2 / known) @ (coefficient**2).T
    most = noise.total_df + noise.own_df.max(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        df = np.where(spread > 0, variance**2 / spread, noise.total_df)
    return Estimates(means @ rows.T, np.sqrt(variance), np.clip(df, min(1.0, noise.total_df), most), a)
