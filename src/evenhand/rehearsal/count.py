"""Counting on studies with known truth: how often intervals cover, how often a verdict is false.

The arrays go through the very functions that `judge` calls (layout, visit_noise, estimates, title_quantiles); a test holds that
both give the same numbers. As truth only shifts an estimate, every pair of setups serves as a tie and as a pair at the margin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.critical import pairs_quantile, t_quantile, title_quantiles
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.layout import Layout, layout_of
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.rehearsal.naive import pooled_runs
from evenhand.rehearsal.simulate import Simulated, Truth, simulate

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

BATCH_VALUES = 3_000_000


@dataclass(frozen=True, slots=True)
class Share:
    """A counted share and its Monte Carlo standard error (studies are independent, comparisons within one are not)."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Counts:
    """What was counted over `studies` studies of one kind.

    title, over : a 95 % interval of one comparison covers the truth, at a title and over titles. family : all simultaneous
    intervals of a title cover. false_ahead, false_ahead_over : "ahead" where the two setups are the same (any amount behind makes
    it rarer). false_level, false_level_over : the 90 % interval inside the margin where the truth is at the margin. pooled_title,
    pooled_over : coverage of intervals that take every run as independent. shift_df : f_Z.
    """

    studies: int
    title: Share
    family: Share
    over: Share
    false_ahead: Share
    false_ahead_over: Share
    false_level: Share
    false_level_over: Share
    pooled_title: Share
    pooled_over: Share
    shift_df: float


def count(truth: Truth, studies: int, seed: int, rounds: bool = False, margin: float = 0.03, confidence: float = 0.95) -> Counts:
    """Simulate and count. `rounds` : whether the analysis has the round term; margin as a fraction."""
    rng = np.random.default_rng(seed)
    per_study = truth.titles * truth.setups * max(truth.visits_of) * truth.runs
    batch = max(1, min(studies, BATCH_VALUES // per_study))
    tallies: list[dict[str, Floats]] = []
    shift_df = 0.0
    for start in range(0, studies, batch):
        simulated = simulate(truth, rng, min(batch, studies - start))
        layout = layout_of(simulated.present, rounds)
        shift_df = layout.shift_df
        tallies.append(_tally(layout, simulated, math.log1p(margin), confidence))
    shares = {name: _share(np.concatenate([t[name] for t in tallies])) for name in tallies[0]}
    return Counts(studies=studies, shift_df=shift_df, **shares)


def _share(per_study: Floats) -> Share:
    return Share(float(per_study.mean()), float(per_study.std(ddof=1) / math.sqrt(per_study.size)))


def title_pairs(layout: Layout) -> tuple[Ints, Ints, Floats]:
    """(title (K,), pair (K,), pair weights (P, C)) of every pair of setups that a title has."""
    setups = layout.shape[1]
    weights = np.array([np.eye(setups)[b] - np.eye(setups)[a] for a in range(setups) for b in range(a + 1, setups)])
    whole = np.array([layout.cells[:, w != 0].all(axis=1) for w in weights]).T
    title, pair = np.nonzero(whole)
    return title, pair, weights


def _tally(layout: Layout, simulated: Simulated, margin: float, confidence: float) -> dict[str, Floats]:
    """Per study, the share of comparisons (of titles for the family) for which each thing holds."""
    visit_mean = simulated.values.mean(axis=-1)
    means = layout.pick(visit_mean)
    noise = visit_noise(layout, means)
    title, pair, weights = title_pairs(layout)
    rows = contrast_weights(layout, np.eye(layout.shape[0])[title], weights[pair])
    found = estimates(layout, noise, means, rows)
    error = found.estimate - np.einsum("skc,kc->sk", simulated.true[:, title], weights[pair])
    simultaneous = title_quantiles(layout, noise, title, rows, found.df, confidence) * found.se
    inside = np.abs(error) <= simultaneous
    at_titles = np.equal.outer(np.arange(layout.shape[0]), title)
    family = np.array([inside[:, mine].all(axis=1) for mine in at_titles if mine.any()]).T
    votes, over_true = _over_titles(layout, simulated, weights)
    over_rows = contrast_weights(layout, votes, weights)
    over = estimates(layout, noise, means, over_rows)
    over_error = over.estimate - over_true
    over_all = pairs_quantile(layout.shape[1], over.df, confidence) * over.se
    naive = pooled_runs(simulated.values, title, weights[pair], votes, weights, confidence)
    return {
        "title": _mean(np.abs(error) <= t_quantile(found.df, confidence) * found.se),
        "family": _mean(family),
        "over": _mean(np.abs(over_error) <= t_quantile(over.df, confidence) * over.se),
        "false_ahead": _mean(error > simultaneous),
        "false_ahead_over": _mean(over_error > over_all),
        "false_level": _mean(_within(error, t_quantile(found.df, INNER_CONFIDENCE) * found.se, margin)),
        "false_level_over": _mean(_within(over_error, t_quantile(over.df, INNER_CONFIDENCE) * over.se, margin)),
        "pooled_title": _mean(np.abs(error) <= naive.title),
        "pooled_over": _mean(np.abs(over_error) <= naive.over),
    }


def _over_titles(layout: Layout, simulated: Simulated, weights: Floats) -> tuple[Floats, Floats]:
    """(votes (P, T), true mean differences (S, P)) over the titles that have both setups of each pair."""
    votes = np.array([layout.cells[:, w != 0].all(axis=1) for w in weights], dtype=np.float64)
    votes /= votes.sum(axis=1, keepdims=True)
    return votes, np.einsum("pt,stc,pc->sp", votes, simulated.true, weights)


def _within(error: Floats, half: Floats, margin: float) -> npt.NDArray[np.bool_]:
    """Level where the truth is +margin or -margin, each once: the mean of both."""
    above = (error + half < 0) & (error - half > -2 * margin)
    below = (error - half > 0) & (error + half < 2 * margin)
    return np.asarray(np.concatenate([above, below], axis=1))


def _mean(holds: npt.NDArray[np.bool_]) -> Floats:
    return np.asarray(holds.mean(axis=1))
