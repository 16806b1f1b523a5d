"""The method this project is there to replace: every run taken as independent, whatever visit it came from. For contrast only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.critical import t_quantile

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PooledRuns:
    """Half-widths of pointwise intervals, at titles (S, K) and over titles (S, P)."""

    title: Floats
    over: Floats


def pooled_runs(
    values: Floats, title: npt.NDArray[np.intp], weights: Floats, votes: Floats, over_weights: Floats, confidence: float
) -> PooledRuns:
    """Two-sample t intervals with the runs of a title as replicates: variance pooled over its setups, and over titles its mean.

    values : (S, T, C, V, R), NaN where absent. title (K,), weights (K, C) : contrasts at titles. votes (P, T), over_weights
    (P, C) : contrasts over titles.
    """
    runs = values.reshape(*values.shape[:3], -1)
    there = ~np.isnan(runs)
    count = there.sum(axis=3)
    mean = np.where(there, runs, 0.0).sum(axis=3) / np.maximum(count, 1)
    squares = (np.where(there, runs - mean[..., None], 0.0) ** 2).sum(axis=3)
    df = np.maximum(count - 1, 0).sum(axis=2)
    variance = squares.sum(axis=2) / np.maximum(df, 1)
    each = 1.0 / np.maximum(count, 1)
    at_titles = np.einsum("skc,kc->sk", each[:, title], weights**2) * variance[:, title]
    over = np.einsum("pt,stc,pc,st->sp", votes**2, each, over_weights**2, variance)
    studies_df = df[0]  # the same in all
    return PooledRuns(
        np.asarray(t_quantile(studies_df[title], confidence) * np.sqrt(at_titles)),
        np.asarray(t_quantile(studies_df.sum(), confidence) * np.sqrt(over)),
    )
