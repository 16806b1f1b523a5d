"""Setups unlike the others: the ratio of each one's own noise to that of all, and the one whose visits differ by more."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import special

from evenhand.judging.layout import Layout
from evenhand.stats.moderated import fit_prior

Floats = npt.NDArray[np.float64]

#: With fewer degrees of freedom of a setup than this its noise is supposed to be that of the others.
LEAST_DF = 3.0
#: No setup is taken to be quieter than this part of the mean variance: one that seems to have no noise is not known so well.
LEAST_RATIO = 0.01
#: How often a setup is called unsteady though all are alike.
BY_CHANCE = 0.05


def setup_ratios(layout: Layout, residuals: Floats, own: Floats, known_unlike: bool = False) -> Floats:
    """(S, C): variance of a setup's residuals (S, N) over the titles' variances `own` (S, T), as a ratio to the mean setup.

    All of it 1 where the setups are no more unlike than chance (unless known to be) or a setup has too little to tell by.
    """
    ratio = np.ones((residuals.shape[0], layout.shape[1]))
    has = layout.setup_df >= LEAST_DF
    if has.sum() < 2 or (layout.own_df > 0).sum() < 2:
        return ratio
    by_visit = own[:, layout.title]
    squares = np.divide(residuals**2, by_visit, out=np.zeros_like(residuals), where=by_visit > 0)
    sums = squares @ np.equal.outer(layout.setup, np.arange(layout.shape[1]))
    found = sums[:, has] / layout.setup_scale[has]
    mean = found.mean(axis=1, keepdims=True)
    found = np.divide(found, mean, out=np.ones_like(found), where=mean > 0)
    unlike = known_unlike | np.isfinite(fit_prior(found, layout.setup_df[has])[1])
    ratio[np.ix_(unlike, has)] = np.maximum(found[unlike], LEAST_RATIO)
    return ratio


def unsteady_setup(layout: Layout, means: Floats) -> int | None:
    """The setup whose visits differ by more than those of the others, all titles together; None where that may be chance.

    means : (N,), visit means. Its share of the squares of all visits' shared differences (with rounds: of those that tell it from
    the other setups), against Cochran's (1941) bound: the number of setups times the upper tail of a beta distribution.
    """
    shared = layout.shift_basis @ (layout.shift_basis.T @ means)
    squares = np.bincount(layout.setup, shared**2, layout.shape[1])
    further = np.maximum(layout.present.any(axis=0).sum(axis=1) - 1.0, 0.0)
    setups, most = int((further > 0).sum()), int(squares.argmax())
    own = squares[most] * (setups / (setups - 1) if layout.rounds and setups > 1 else 1.0)
    rest_df = layout.shift_df - further[most]
    if rest_df < 0.5 or further[most] == 0 or squares.sum() <= 0:
        return None
    chance = setups * special.betaincc(further[most] / 2, rest_df / 2, min(own / squares.sum(), 1.0))
    return most if chance < BY_CHANCE else None
