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
    size = layout.cells.sum(axis=1)
    alike = alike_visits(layout) | (noise.total_df <= 0)
    for setups in np.unique(size[title[alike[title]]]):
        mine = np.flatnonzero(alike[title] & (size[title] == setups))
        critical[:, mine] = pairs_quantile(int(setups), df[:, mine], confidence)
    for t in np.unique(title[~alike[title]]):
        mine = np.flatnonzero(title == t)
        table = np.round(correlations(layout, noise, rows[mine]) * 20) / 20
        critical[:, mine] = maxt.quantile(table, df[:, mine], confidence)
    return critical


def others_quantiles(layout: Layout, noise: VisitNoise, rows: Floats, df: Floats, confidence: float) -> Floats:
    """(K,): one-sided critical value of the contrasts `rows` (K, N) of one setup against each other one, with df (K,), by their
    correlation; rounded as above.
    """
    table = np.round(correlations(layout, noise, rows) * 20) / 20
    return maxt.one_sided_quantile(table, df, confidence)


def alike_visits(layout: Layout) -> npt.NDArray[np.bool_]:
    """(T,): whether all setups that a title has were visited alike."""
    visited = layout.present.sum(axis=1)
    return np.asarray(((visited == 0) | (visited == layout.cells.sum(axis=1)[:, None])).all(axis=1))
