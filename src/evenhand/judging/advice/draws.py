"""Draws of what may be true, given the runs: for all that asks "how often would it come out otherwise?"."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenhand.judging.model import PooledCells
from evenhand.stats import heavy_tails

Floats = npt.NDArray[np.float64]

DRAWS = 1000
SEED = 20_26


def draw(pooled: PooledCells, count: int = DRAWS, seed: int = SEED) -> Floats:
    """(count, T, C): contrasts to the baseline, on the measure's scale, sign of the value.

    The titles' own parts come from their partially pooled posterior. What visits put on all titles alike is drawn once for all
    titles of a draw; its variance is itself drawn (s²_Z · f / χ²_f less the titles' own part), so that few degrees of freedom
    make wide tails. The same seed gives the same draws.
    """
    rng = np.random.default_rng(seed)
    total = pooled.total * pooled.total_df / rng.chisquare(pooled.total_df, count)
    root = np.sqrt(np.maximum(total - pooled.own_share, 0.0))
    shared = (root[:, None] * rng.standard_normal((count, pooled.shift.shape[1]))) @ pooled.shift.T
    if not isinstance(pooled.spread, heavy_tails.Pooled):
        return np.asarray(pooled.estimate - shared[:, None, :])
    return np.asarray(heavy_tails.draws(pooled.spread, count, rng) @ pooled.contrast.T - shared[:, None, :])
