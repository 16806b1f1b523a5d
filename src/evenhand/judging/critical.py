"""Critical values of intervals that hold for all pairs of a title at once."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import special

from evenhand.judging.layout import Layout
from evenhand.judging.noise import VisitNoise, correlations
from evenhand.stats import maxt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


def t_quantile(df: npt.ArrayLike, confidence: float) -> Floats:
    """Two-sided quantile of Student's t for one comparison alone; infinite where df is 0."""
    d = np.asarray(df, dtype=np.float64)
    return np.asarray(np.where(d > 0, special.stdtrit(np.maximum(d, 0.1), (1 + confidence) / 2), np.inf))


def pairs_quantile(setups: int, df: npt.ArrayLike, confidence: float) -> Floats:
    """The same over all pairs of `setups` with alike visits (studentised range); infinite where df is 0."""
    d = np.asarray(df, dtype=np.float64)
    return np.asarray(np.where(d > 0, maxt.pairs_quantile(setups, np.maximum(d, 0.5), confidence), np.inf))


def title_quantiles(layout: Layout, noise: VisitNoise, title: Ints, rows: Floats, df: Floats, confidence: float) -> Floats:
    """(S, K): critical value of each contrast `rows` (K, N) over all contrasts of its `title` (K,).

    The studentised range where the title's setups have the same visits, the general max-t where not; the correlation is rounded
    to 1/20, so that titles of one pattern share a table.
    """
    critical = np.empty(df.shape)
    for t in np.unique(title):
        mine = np.flatnonzero(title == t)
        visited = layout.present[t][layout.cells[t]]
        if noise.total_df <= 0 or (visited == visited[0]).all():
            critical[:, mine] = pairs_quantile(visited.shape[0], df[:, mine], confidence)
        else:
            table = np.round(correlations(layout, noise, rows[mine]) * 20) / 20
            critical[:, mine] = maxt.quantile(table, df[:, mine], confidence)
    return critical
