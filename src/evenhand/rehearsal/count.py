"""Counting on studies with known truth: how often intervals cover, how often a verdict is false.

The arrays go through the very functions that `judge` calls (layout, visit_noise, estimates, title_quantiles); a test holds that
both give the same numbers. As truth only shifts an estimate, every pair of setups serves as a tie and as a pair at the margin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.critical import pairs_quantile, title_quantiles
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.layout import Layout, layout_of
from evenhand.judging.like import like_titles
from evenhand.judging.noise import VisitNoise, contrast_weights, estimates, own_of_visits, visit_noise
from evenhand.rehearsal.naive import pooled_runs
from evenhand.rehearsal.simulate import Simulated, Truth, simulate, title_effects
from evenhand.stats.meta import between_variance

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

    title, over : a 95 % interval of one comparison covers the truth, at a title and over titles; title_last, over_last : of those
    with the last setup, which is the unlike one where one is. family, family_over : all simultaneous intervals, of a title and
    over titles, cover. like, ahead : the interval for titles like these covers the mean of all such titles, the prediction one
    title more (last setup against the first; None at one title, and at two). false_ahead, false_ahead_over : "ahead" where the
    two setups are the same (any amount behind makes it rarer), or "ahead beyond the margin" where the truth is the margin.
    false_level, false_level_over : the 90 % interval inside the margin where the truth is at the margin. pooled_title,
    pooled_over : coverage of intervals that take every run as independent. shift_df : f_Z.
    """

    studies: int
    title: Share
    title_last: Share
    family: Share
    over: Share
    over_last: Share
    family_over: Share
    false_ahead: Share
    false_ahead_over: Share
    false_level: Share
    false_level_over: Share
    pooled_title: Share
    pooled_over: Share
    shift_df: float
    like: Share | None = None
    ahead: Share | None = None


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
        means = layout.pick(simulated.values.mean(axis=-1))
        noise = visit_noise(layout, means)
        tally = _tally(layout, simulated, means, noise, math.log1p(margin), confidence)
        tallies.append({**tally, **_beyond(truth, layout, means, noise, rng, confidence)})
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


def _tally(
    layout: Layout, simulated: Simulated, means: Floats, noise: VisitNoise, margin: float, confidence: float
) -> dict[str, Floats]:
    """Per study, the share of comparisons (of titles for the family) for which each thing holds."""
    title, pair, weights = title_pairs(layout)
    rows = contrast_weights(layout, np.eye(layout.shape[0])[title], weights[pair])
    found = estimates(layout, noise, means, rows)
    error = found.estimate - np.einsum("skc,kc->sk", simulated.true[:, title], weights[pair])
    last = weights[:, -1] != 0
    simultaneous = title_quantiles(layout, noise, title, rows, found.df, confidence) * found.se
    inside = np.abs(error) <= simultaneous
    at_titles = np.equal.outer(np.arange(layout.shape[0]), title)
    family = np.array([inside[:, mine].all(axis=1) for mine in at_titles if mine.any()]).T
    votes, over_true = _over_titles(layout, simulated, weights)
    over_rows = contrast_weights(layout, votes, weights)
    over = estimates(layout, noise, means, over_rows)
    over_error = over.estimate - over_true
    over_all = pairs_quantile(layout.shape[1], over.df, confidence) * over.se
    pointwise = np.abs(error) <= _quantile(found.df, confidence) * found.se
    over_pointwise = np.abs(over_error) <= _quantile(over.df, confidence) * over.se
    naive = pooled_runs(simulated.values, title, weights[pair], votes, weights, confidence)
    return {
        "title": _mean(pointwise),
        "title_last": _mean(pointwise[:, last[pair]]),
        "family": _mean(family),
        "over": _mean(over_pointwise),
        "over_last": _mean(over_pointwise[:, last]),
        "family_over": _mean(np.asarray((np.abs(over_error) <= over_all).all(axis=1, keepdims=True))),
        "false_ahead": _mean(error > simultaneous),
        "false_ahead_over": _mean(over_error > over_all),
        "false_level": _mean(_within(error, _quantile(found.df, INNER_CONFIDENCE) * found.se, margin)),
        "false_level_over": _mean(_within(over_error, _quantile(over.df, INNER_CONFIDENCE) * over.se, margin)),
        "pooled_title": _mean(np.abs(error) <= naive.title),
        "pooled_over": _mean(np.abs(over_error) <= naive.over),
    }


def _beyond(
    truth: Truth, layout: Layout, means: Floats, noise: VisitNoise, rng: np.random.Generator, confidence: float
) -> dict[str, Floats]:
    """The same for titles like these and for one title not tested: the last setup against the first."""
    setups = layout.shape[1]
    titles = np.flatnonzero(layout.cells[:, 0] & layout.cells[:, -1])
    if titles.size < 2 or layout.shift_df <= 0:
        return {}
    against = np.eye(setups)[-1] - np.eye(setups)[0]
    rows = contrast_weights(layout, np.eye(layout.shape[0])[titles], np.tile(against, (titles.size, 1)))
    effects, votes = means @ rows.T, np.full(titles.size, 1.0 / titles.size)
    over = contrast_weights(layout, (votes @ np.eye(layout.shape[0])[titles])[None], against[None])
    own = own_of_visits(layout, noise) @ (rows**2).T
    tau2 = between_variance(effects, own) if titles.size > 2 else np.zeros(effects.shape[0])
    share = float(estimates(layout, noise, means, over).shift_share[0])
    found = like_titles(noise, effects, votes, share, tau2)
    centre = effects @ votes
    covers = {"like": np.abs(centre - truth.like @ against) <= _quantile(found.df, confidence) * found.se}
    if titles.size > 2:
        new = title_effects(truth, rng, (effects.shape[0],)) @ against
        covers["ahead"] = np.abs(centre - new) <= _quantile(found.ahead_df, confidence) * found.ahead_se
    return {name: held.astype(np.float64) for name, held in covers.items()}


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


def _quantile(df: Floats, confidence: float) -> Floats:
    """Student's t, two-sided, as the largest of one pair: interpolated, exact to 1e-4, many times as fast."""
    return pairs_quantile(2, df, confidence)


def _mean(holds: npt.NDArray[np.bool_]) -> Floats:
    return np.asarray(holds.mean(axis=1))
