"""A planned study, or a finished one that is repeated: simulated by its own design and noise, judged by the judging code.

Truth only shifts an estimate, so one set of simulated noise serves for ties, for differences of any size and for a mixture.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from evenhand.judging.critical import pairs_quantile, t_quantile, title_quantiles
from evenhand.judging.decide import INNER_CONFIDENCE, VERDICTS, verdict_codes
from evenhand.judging.layout import Layout, layout_of
from evenhand.judging.model import Verdict
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.measures.model import Better
from evenhand.rehearsal.count import title_pairs
from evenhand.rehearsal.model import Counted, Difference, Outlook
from evenhand.rehearsal.simulate import Truth, simulate

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]
Progress = Callable[[int], None]

#: What is true of setups against the baseline when nobody says otherwise: most titles level, a few collapse.
MOSTLY_LEVEL = (Difference(0.70, 0.0), Difference(0.10, 2.0), Difference(0.10, -2.0), Difference(0.10, -5.0))
BATCH_VALUES = 1_000_000
LEVEL, OPEN = VERDICTS.index(Verdict.LEVEL), VERDICTS.index(Verdict.OPEN)
AHEAD = [VERDICTS.index(Verdict.AHEAD), VERDICTS.index(Verdict.AHEAD_BEYOND)]


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """The comparisons of a layout: K at titles and P over titles. at : (K,), index of the title. pair : (K,), index of the pair.

    weights : (P, C). votes : (P, T). rows, over_rows : the visits' weights, (K, N) and (P, N).
    """

    at: Ints
    pair: Ints
    weights: Floats
    votes: Floats
    rows: Floats
    over_rows: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """S studies judged: estimates, degrees of freedom, half-widths of the three intervals, at titles or over titles, (S, K)."""

    estimate: Floats
    df: Floats
    simultaneous: Floats
    pointwise: Floats
    inner: Floats

    def verdict(self, margin: float, truth: Floats | float = 0.0) -> Ints:
        """Codes of the verdicts, larger values being better, where the setups truly differ by `truth` more."""
        return verdict_codes(self.estimate + truth, self.simultaneous, self.inner, margin, Better.HIGHER)

    def settled(self, margin: float, truth: Floats | float = 0.0) -> Bools:
        """Which verdicts are not open."""
        return np.asarray(self.verdict(margin, truth) != OPEN)


@dataclass(frozen=True, slots=True, eq=False)
class Simulations:
    """S studies of one design without any true difference: estimates are errors."""

    layout: Layout
    pairs: Pairs
    at_titles: Judged
    over_titles: Judged

    def differences(self, true: Floats) -> tuple[Floats, Floats]:
        """(at titles (S, K), over titles (S, P)): what the comparisons are truly about, from the cells' (S, T, C)."""
        pairs = self.pairs
        at_titles = np.einsum("skc,kc->sk", true[:, pairs.at], pairs.weights[pairs.pair])
        return np.asarray(at_titles), np.asarray(np.einsum("pt,stc,pc->sp", pairs.votes, true, pairs.weights))


def pairs_of(layout: Layout, title_votes: Floats) -> Pairs:
    """Every pair of setups at every title that has both, and over those titles with their votes (T,)."""
    at, pair, weights = title_pairs(layout)
    votes = np.array([layout.cells[:, w != 0].all(axis=1) * title_votes for w in weights])
    votes = votes / np.maximum(votes.sum(axis=1, keepdims=True), 1e-300)
    rows = contrast_weights(layout, np.eye(layout.shape[0])[at], weights[pair])
    return Pairs(at, pair, weights, votes, rows, contrast_weights(layout, votes, weights))


def judged(layout: Layout, pairs: Pairs, means: Floats, confidence: float) -> tuple[Judged, Judged]:
    """(at titles, over titles) of the visit means (S, N) by the functions that `judge` calls."""
    noise = visit_noise(layout, means)
    found = estimates(layout, noise, means, pairs.rows)
    critical = title_quantiles(layout, noise, pairs.at, pairs.rows, found.df, confidence)
    over = estimates(layout, noise, means, pairs.over_rows)
    setups = int(layout.cells.any(axis=0).sum())
    return (
        _judged(found.estimate, found.se, found.df, critical, confidence),
        _judged(over.estimate, over.se, over.df, pairs_quantile(setups, over.df, confidence), confidence),
    )


def _judged(estimate: Floats, se: Floats, df: Floats, critical: Floats, confidence: float) -> Judged:
    if not (df > 0).all():
        never = np.full(estimate.shape, math.inf)
        return Judged(estimate, df, never, never, never)
    pointwise, inner = t_quantile(df, confidence) * se, t_quantile(df, INNER_CONFIDENCE) * se
    return Judged(estimate, df, critical * se, pointwise, inner)


def simulated(
    truth: Truth, rounds: bool, votes: Floats, studies: int, seed: int, confidence: float, tell: Progress = lambda _: None
) -> Simulations:
    """Simulate and judge; `truth` states no effects. tell : called with the number of studies done."""
    rng = np.random.default_rng(seed)
    batch = max(1, BATCH_VALUES // (truth.titles * truth.setups * max(truth.visits_of) * truth.runs))
    at_titles: list[Judged] = []
    over_titles: list[Judged] = []
    for start in range(0, studies, batch):
        drawn = simulate(truth, rng, min(batch, studies - start))
        layout = layout_of(drawn.present, rounds)
        pairs = pairs_of(layout, votes)
        at, over = judged(layout, pairs, layout.pick(drawn.values.mean(axis=-1)), confidence)
        at_titles.append(at)
        over_titles.append(over)
        tell(min(start + batch, studies))
    return Simulations(layout, pairs, _joined(at_titles), _joined(over_titles))


def _joined(parts: Sequence[Judged]) -> Judged:
    names = ("estimate", "df", "simultaneous", "pointwise", "inner")
    return Judged(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def outlooks(found: Simulations, margin: float, true: Floats) -> tuple[Outlook, Outlook, Counted]:
    """(at titles, over titles, how often all intervals of a title hold). true : (S, T, C), what the verdicts that are to settle
    are about, on the scale.
    """
    at_titles, over = found.differences(true)
    inside = np.abs(found.at_titles.estimate) <= found.at_titles.simultaneous
    family = np.array([inside[:, found.pairs.at == t].all(axis=1) for t in np.unique(found.pairs.at)]).T
    return _outlook(found.at_titles, at_titles, margin), _outlook(found.over_titles, over, margin), counted(family)


def mixed(supposed: Sequence[Difference], shape: tuple[int, int, int], baseline: int, seed: int) -> Floats:
    """(S, T, C): differences from the baseline in margins, drawn anew for each setup at each title."""
    rng = np.random.default_rng([seed, 1])
    shares = np.array([d.share for d in supposed])
    drawn = np.array([d.margins for d in supposed])[rng.choice(shares.size, size=shape, p=shares / shares.sum())]
    drawn[:, :, baseline] = 0.0
    return np.asarray(drawn)


def _outlook(noise: Judged, truth: Floats, margin: float) -> Outlook:
    double, more = noise.verdict(margin, 2.0 * margin), noise.verdict(margin, 1.5 * margin)
    at_margin = np.concatenate([noise.verdict(margin, side * margin) for side in (-1.0, 1.0)], axis=1)
    return Outlook(
        simultaneous=float(np.median(noise.simultaneous)),
        pointwise=float(np.median(noise.pointwise)),
        finds_double=float(np.isin(double, AHEAD).mean()),
        finds_more=float(np.isin(more, AHEAD).mean()),
        tie_level=float((noise.verdict(margin) == LEVEL).mean()),
        settled=float(noise.settled(margin, truth).mean()),
        covers=counted(np.abs(noise.estimate) <= noise.pointwise),
        false_ahead=counted(noise.estimate > noise.simultaneous),
        false_level=counted(np.asarray(at_margin == LEVEL)),
    )


def counted(holds: Bools) -> Counted:
    """Share of (S, K) and its standard error; studies are independent, comparisons within one are not."""
    per_study = holds.mean(axis=1)
    error = float(per_study.std(ddof=1) / math.sqrt(per_study.size)) if per_study.size > 1 else math.inf
    return Counted(float(per_study.mean()), error)


def unlike_titles(prior_df: float) -> float:
    """Spread of the log of standard deviations whose variances are scaled inverse chi-square on d0 (the moderation's prior)."""
    return 0.5 * math.sqrt(float(special.polygamma(1, prior_df / 2.0))) if math.isfinite(prior_df) else 0.0
