"""Which factor does it, and where factors need each other: contrasts of the setups' means."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis, doubts_of, half_width, interval
from evenhand.judging.contrasts import FactorContrast
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import decide
from evenhand.judging.family import family_quantiles
from evenhand.judging.model import Effect, Verdict
from evenhand.judging.over import title_votes

Floats = npt.NDArray[np.float64]


def effects(analysis: Analysis, contrasts: Sequence[FactorContrast]) -> tuple[Effect, ...]:
    """Every factor contrast at every title that has its setups, then over those titles (title None), contrasts outside.

    The intervals that decide hold for all contrasts of a title at once; over titles, for all contrasts there.
    """
    if not contrasts:
        return ()
    weights = np.array([c.weights for c in contrasts])
    possible = analysis.estimable(weights)
    by_title = [_together(analysis, t, contrasts, np.flatnonzero(possible[t])) for t in range(possible.shape[0])]
    over = _together(analysis, None, contrasts, np.flatnonzero(possible.any(axis=0)))
    found = [(k, effect) for own in (*by_title, over) for k, effect in own]
    return tuple(effect for _, effect in sorted(found, key=lambda pair: pair[0]))


def _together(
    analysis: Analysis, title: int | None, contrasts: Sequence[FactorContrast], mine: npt.NDArray[np.intp]
) -> list[tuple[int, Effect]]:
    """(place, effect) of the contrasts `mine` at one title, or over titles."""
    if not mine.size:
        return []
    weights = np.array([contrasts[k].weights for k in mine])
    votes = title_weights(analysis, title, weights)
    found = analysis.contrasts(analysis.rows(votes, weights))
    estimate, se, df = found.estimate[0], found.se[0], found.df[0]
    confidence = analysis.design.confidence
    together = half_width(se, family_quantiles(weights, visits_at(analysis, title), df, confidence))
    alone = half_width(se, t_quantile(df, confidence))
    inner = half_width(se, t_quantile(df, analysis.design.inner))
    listed = []
    for i, k in enumerate(mine.tolist()):
        middle = float(estimate[i])
        outer = interval(middle, float(together[i]), confidence)
        pair = interval(middle, float(inner[i]), analysis.design.inner)
        effect = Effect(
            measure=analysis.measure.key,
            title=None if title is None else analysis.visits.titles[title],
            factors=contrasts[k].factors,
            levels=contrasts[k].levels,
            estimate=middle,
            se=float(se[i]),
            df=float(df[i]),
            pointwise=interval(middle, float(alone[i]), confidence),
            margin=analysis.margin,
            verdict=decide(outer, pair, analysis.margin, analysis.measure.better) if analysis.told else Verdict.UNTOLD,
            doubts=(
                *doubts_of(float(df[i]), float(se[i]), analysis.single_visit(np.flatnonzero(weights[i]))),
                *analysis.setup_doubts(np.flatnonzero(weights[i])),
            ),
            simultaneous=outer,
            additive=contrasts[k].additive,
        )
        listed.append((k, effect))
    return listed


def title_weights(analysis: Analysis, title: int | None, setup_weights: Floats) -> Floats:
    """(K, T): the one title for each of K contrasts, or the votes of the titles that have all setups of it."""
    titles = len(analysis.visits.titles)
    if title is not None:
        return np.tile(np.eye(titles)[title], (setup_weights.shape[0], 1))
    possible = analysis.estimable(setup_weights)
    return np.array([title_votes(analysis, np.flatnonzero(p).tolist()) for p in possible.T])


def visits_at(analysis: Analysis, title: int | None) -> npt.NDArray[np.intp]:
    """(C,): visits of each setup at the title, or the most at any title."""
    visits = analysis.visits_of
    return np.asarray(visits.max(axis=0) if title is None else visits[title])
