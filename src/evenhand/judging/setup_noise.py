"""Setups that are noisier than the others: the ratio of each one's own noise to that of all, from all titles together."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenhand.judging.layout import Layout
from evenhand.stats.moderated import fit_prior

Floats = npt.NDArray[np.float64]

#: With fewer degrees of freedom of a setup than this its noise is supposed to be that of the others.
LEAST_DF = 6.0
#: No setup is taken to be quieter than this part of the mean variance: one that seems to have no noise is not known so well.
LEAST_RATIO = 0.01


def setup_ratios(layout: Layout, residuals: Floats, own: Floats) -> Floats:
    """(S, C): variance of a setup's residuals (S, N) over the titles' variances `own` (S, T), as a ratio to the mean setup.

    All of it 1 where the setups are no more unlike than chance or a setup has too little to tell by.
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
    _, prior_df = fit_prior(found, layout.setup_df[has])
    ratio[np.ix_(np.isfinite(prior_df), has)] = np.maximum(found[np.isfinite(prior_df)], LEAST_RATIO)
    return ratio
