"""Which factor does it, and where factors need each other: contrasts of the setups' means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
    found = [
        pair
        for titles in alike_titles(analysis, possible)
        for pair in _together(analysis, titles, contrasts, np.flatnonzero(possible[titles[0]]))
    ]
    found += _together(analysis, None, contrasts, np.flatnonzero(possible.any(axis=0)))
    order = [*analysis.visits.titles, None]
    found.sort(key=lambda pair: (pair[0], order.index(pair[1].title)))
    return tuple(effect for _, effect in found)


def alike_titles(analysis: Analysis, possible: npt.NDArray[np.bool_]) -> list[list[int]]:
    """Titles that can be judged in one go: the same `possible` (T, K) contrasts, the same numbers of visits."""
    groups: dict[bytes, list[int]] = {}
    visits = analysis.visits_of
    for t, row in enumerate(possible):
        groups.setdefault(row.tobytes() + visits[t].tobytes(), []).append(t)
    return list(groups.values())


def _together(
    analysis: Analysis, titles: list[int] | None, contrasts: Sequence[FactorContrast], mine: npt.NDArray[np.intp]
) -> list[tuple[int, Effect]]:
    """(place, effect) of the contrasts `mine` at each of titles that are alike, or over titles."""
    if not mine.size:
        return []
    weights = np.array([contrasts[k].weights for k in mine])
    places: list[int | None] = [None] if titles is None else [*titles]
    names = [None if t is None else analysis.visits.titles[t] for t in places]
    votes = np.concatenate([title_weights(analysis, t, weights) for t in places])
    found = analysis.contrasts(analysis.rows(votes, np.tile(weights, (len(names), 1))))
    se, df = found.se[0].reshape(len(names), -1), found.df[0].reshape(len(names), -1)
    critical = family_quantiles(weights, visits_at(analysis, places[0]), df, analysis.design.confidence)
    numbers = _Numbers(
        found.estimate[0].reshape(se.shape),
        se,
        df,
        half_width(se, critical),
        half_width(se, t_quantile(df, analysis.design.confidence)),
        half_width(se, t_quantile(df, analysis.design.inner)),
    )
    singles = [(analysis.single_visit(own), analysis.setup_doubts(own)) for own in map(np.flatnonzero, weights)]
    return [
        (k, _effect(analysis, name, contrasts[k], numbers, (n, i), singles[i]))
        for n, name in enumerate(names)
        for i, k in enumerate(mine.tolist())
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Numbers:
    """(titles, contrasts) each: estimate, standard error, degrees of freedom; half of the interval of all effects together, of
    the effect alone, and of the two one-sided tests.
    """

    estimate: Floats
    se: Floats
    df: Floats
    together: Floats
    alone: Floats
    inner: Floats


def _effect(
    analysis: Analysis,
    title: str | None,
    contrast: FactorContrast,
    numbers: _Numbers,
    at: tuple[int, int],
    doubts: tuple[tuple[str, ...], tuple[str, ...]],
) -> Effect:
    confidence, middle = analysis.design.confidence, float(numbers.estimate[at])
    se, df = float(numbers.se[at]), float(numbers.df[at])
    outer = interval(middle, float(numbers.together[at]), confidence)
    inner = interval(middle, float(numbers.inner[at]), analysis.design.inner)
    return Effect(
        measure=analysis.measure.key,
        title=title,
        factors=contrast.factors,
        levels=contrast.levels,
        estimate=middle,
        se=se,
        df=df,
        pointwise=interval(middle, float(numbers.alone[at]), confidence),
        margin=analysis.margin,
        verdict=decide(outer, inner, analysis.margin, analysis.measure.better) if analysis.told else Verdict.UNTOLD,
        doubts=(*doubts_of(df, se, doubts[0]), *doubts[1]),
        simultaneous=outer,
        additive=contrast.additive,
    )


def title_weights(analysis: Analysis, title: int | None, setup_weights: Floats) -> Floats:
    """(K, T): the one title for each of K contrasts, or the votes of the titles that have all setups of it."""
    if title is not None:
        return np.tile(np.eye(len(analysis.visits.titles))[title], (setup_weights.shape[0], 1))
    return np.array([title_votes(analysis, np.flatnonzero(p).tolist()) for p in analysis.estimable(setup_weights).T])


def visits_at(analysis: Analysis, title: int | None) -> npt.NDArray[np.intp]:
    """(C,): visits of each setup at the title, or the most at any title."""
    visits = analysis.visits_of
    return np.asarray(visits.max(axis=0) if title is None else visits[title])
