"""What the titles say together: for these titles, for titles like these, and for one title not tested."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging import reservations, settle
from evenhand.judging.analysis import Analysis, doubts_of, half_width, interval, p_values
from evenhand.judging.critical import pairs_quantile, t_quantile
from evenhand.judging.decide import AHEAD, BEHIND, decide, leaning
from evenhand.judging.like import like_titles
from evenhand.judging.model import Comparison, Interval, OverTitles, Verdict
from evenhand.judging.noise import Estimates
from evenhand.judging.pairs import Pair, pair_weights, pairs_of, tipping
from evenhand.stats.meta import RandomEffects, random_effects

Floats = npt.NDArray[np.float64]
FEW_TITLES = 5
#: Titles so many robust standard deviations from the middle one are far from it.
FAR = 6.0


@dataclass(frozen=True, slots=True)
class _Spread:
    """What the titles' differences say about titles like these."""

    se_like: float | None = None
    df_like: float | None = None
    like: Interval | None = None
    tau: float | None = None
    prediction: Interval | None = None


def over_titles(analysis: Analysis, compared: Sequence[Comparison]) -> tuple[OverTitles, ...]:
    """Every pair of setups over the titles that have both."""
    names = analysis.design.setups
    over = []
    for pair in pairs_of(analysis.design):
        mine = [c for c in compared if (c.setup, c.against) == (names[pair[0]], names[pair[1]])]
        if mine:
            at = [analysis.visits.titles.index(c.title) for c in mine]
            over.append(_over(analysis, pair, mine, at, _random_effects(analysis, mine, at, pair)))
    return tuple(over)


def title_votes(analysis: Analysis, titles: Sequence[int]) -> Floats:
    """(T,): weights of the given titles that sum to 1, 0 for the rest."""
    votes = np.zeros(len(analysis.visits.titles))
    for t in titles:
        votes[t] = analysis.design.weights.get(analysis.visits.titles[t], 1.0)
    return np.asarray(votes / votes.sum())


def _over(
    analysis: Analysis, pair: Pair, at_titles: Sequence[Comparison], titles: Sequence[int], effects: RandomEffects | None
) -> OverTitles:
    design, margin, better = analysis.design, analysis.margin, analysis.measure.better
    votes = title_votes(analysis, titles)[None, :]
    rows = analysis.rows(votes, pair_weights([pair], len(design.setups)))
    found = analysis.contrasts(rows)
    estimate, se, df = float(found.estimate[0, 0]), float(found.se[0, 0]), float(found.df[0, 0])
    share = float(found.shift_share[0])
    these = interval(estimate, float(half_width(se, pairs_quantile(analysis.setups, df, design.confidence))), design.confidence)
    inner = interval(estimate, float(half_width(se, t_quantile(df, design.inner))), design.inner)
    verdict = decide(these, inner, margin, better) if analysis.told else Verdict.UNTOLD
    spread = _spread(analysis, estimate, np.array([c.estimate for c in at_titles]), votes[0, titles], share, effects)
    return OverTitles(
        measure=analysis.measure.key,
        setup=design.setups[pair[0]],
        against=design.setups[pair[1]],
        estimate=estimate,
        se_these=se,
        df_these=df,
        these=these,
        inner=inner,
        se_like=spread.se_like,
        df_like=spread.df_like,
        like=spread.like,
        tau=spread.tau,
        prediction=spread.prediction,
        margin=margin,
        verdict=verdict,
        titles=len(titles),
        **_verdict_counts([c.verdict for c in at_titles]),
        tipping=tipping(analysis, estimate, share, float(analysis.run_variance(rows)[0])),
        visits_to_settle=_further(analysis, found, titles, pair) if verdict is Verdict.OPEN else None,
        doubts=(
            *doubts_of(df, se, analysis.single_visit(np.array(pair))),
            *analysis.setup_doubts(np.array(pair)),
            *_few_titles(len(titles)),
            *_uneven(np.array([c.estimate for c in at_titles])),
        ),
        leaning=leaning(these, better),
        p_value=float(p_values(found.estimate, found.se, found.df)[0, 0]) if analysis.told else None,
    )


def _verdict_counts(verdicts: Sequence[Verdict]) -> dict[str, int]:
    return {
        "titles_ahead": sum(v in AHEAD for v in verdicts),
        "titles_level": verdicts.count(Verdict.LEVEL),
        "titles_behind": sum(v in BEHIND for v in verdicts),
        "titles_open": verdicts.count(Verdict.OPEN),
        "titles_untold": verdicts.count(Verdict.UNTOLD),
    }


def _further(analysis: Analysis, found: Estimates, titles: Sequence[int], pair: Pair) -> int | None:
    design = analysis.design
    visits = np.array([_visits(analysis, titles, pair)])
    further = settle.further_visits(
        found.estimate[0], found.se[0], found.df[0], visits, analysis.margin, analysis.setups, design.confidence
    )
    return int(further[0]) or None


def _few_titles(titles: int) -> tuple[str, ...]:
    if titles >= FEW_TITLES:
        return ()
    return (f"{titles} title{'s' if titles > 1 else ''}: little can be said about others",)


def _uneven(effects: Floats) -> tuple[str, ...]:
    """Whether a few titles lie so far from the middle that no normal law has them."""
    far = np.abs(effects - np.median(effects))
    middle = 1.4826 * float(np.median(far))
    return (reservations.UNEVEN.say(),) if effects.size >= FEW_TITLES and far.max() > FAR * middle else ()


def _visits(analysis: Analysis, titles: Sequence[int], pair: Pair) -> float:
    counts = analysis.visits_of[list(titles)][:, list(pair)].astype(np.float64)
    return float(counts.size / (1.0 / np.maximum(counts, 1e-9)).sum())


def _random_effects(
    analysis: Analysis, at_titles: Sequence[Comparison], titles: Sequence[int], pair: Pair
) -> RandomEffects | None:
    """Between-title variance by REML from the estimates and each title's own noise; what a visit shares moves all titles alike
    and is no part of it.
    """
    if len(titles) < 2 or not analysis.told:
        return None
    setups = analysis.design.setups
    weights = pair_weights([pair] * len(titles), len(setups))
    own = analysis.own_variance(analysis.rows(np.eye(len(analysis.visits.titles))[list(titles)], weights))
    estimates = np.array([c.estimate for c in at_titles])
    floor = 1e-12 * float(np.ptp(estimates)) ** 2 + 1e-24
    return random_effects(estimates, np.maximum(own, floor))


def _spread(
    analysis: Analysis, estimate: float, effects: Floats, votes: Floats, shift_share: float, reml: RandomEffects | None
) -> _Spread:
    if effects.size < 2 or reml is None:
        return _Spread()
    found = like_titles(analysis.noise, effects[None, :], votes, shift_share, np.array([reml.tau2]))
    confidence = analysis.design.confidence
    like = interval(estimate, float(half_width(found.se, t_quantile(found.df, confidence))[0]), confidence)
    prediction = None
    if found.ahead_df[0] > 0:
        half = half_width(found.ahead_se, t_quantile(found.ahead_df, confidence))
        prediction = interval(estimate, float(half[0]), confidence)
    return _Spread(float(found.se[0]), float(found.df[0]), like, math.sqrt(reml.tau2), prediction)
