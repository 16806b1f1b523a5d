"""What the partially pooled estimates say of gains and regrets, and how often each rule names each setup in draws from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.draws import draw
from evenhand.judging.advice.model import Rule, RuleAdvice
from evenhand.judging.advice.rules import choose, combined, gains, regrets, weighted
from evenhand.judging.model import PooledCells

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """T titles and C setups that every measure with weight could be pooled for.

    votes : (T,), of the titles, sum 1. regrets : measure key -> (T, C), better direction positive, on the measure's scale.
    best : (C,), chance of the highest mean gain over titles. best_at : (T, C), of the highest gain at a title.
    """

    titles: tuple[str, ...]
    setups: tuple[str, ...]
    votes: Floats
    regrets: Mapping[str, Floats]
    rules: tuple[RuleAdvice, ...]
    best: Floats
    best_at: Floats

    def mean_regret(self, measure: str, setup: str) -> float:
        """Over titles, by their votes."""
        return float(weighted(self.regrets[measure], self.votes)[self.setups.index(setup)])


def weigh(
    parts: Sequence[PooledCells],
    weights: Sequence[float],
    votes: Mapping[str, float],
    fixed: Mapping[tuple[str, str], float],
    count: int,
    seed: int,
) -> Weighed | None:
    """Gains in several measures as one, counted in margins and by `weights`.

    votes : title -> weight, 1 where not named. fixed : (title, setup) -> gain known beside the frames, in margins and with its
    weight on it already; used where every title and setup has one. None where the measures have fewer than two setups or no
    title in common. All measures are drawn with the same random numbers, that is as if their errors went together: the cautious
    way, as a visit that is fast in the average is fast in the low.
    """
    titles = tuple(t for t in parts[0].titles if all(t in p.titles for p in parts)) if parts else ()
    setups = tuple(s for s in parts[0].setups if all(s in p.setups for p in parts)) if parts else ()
    if len(setups) < 2 or not titles:
        return None
    share = np.array([votes.get(t, 1.0) for t in titles])
    share = share / share.sum()
    margins = [p.margin for p in parts]
    own = [gains(_common(p.estimate, p, titles, setups), p) for p in parts]
    added = _added(fixed, titles, setups, sum(weights))
    drawn = combined([gains(_common(draw(p, count, seed), p, titles, setups), p) for p in parts], margins, weights) + added
    named = choose(combined(own, margins, weights) + added, share)
    often = choose(drawn, share)
    rules = tuple(RuleAdvice(r, setups[int(named[r])], tuple(_shares(often[r], len(setups)).tolist())) for r in Rule)
    return Weighed(
        titles=titles,
        setups=setups,
        votes=share,
        regrets={p.measure.key: regrets(g) for p, g in zip(parts, own, strict=True)},
        rules=rules,
        best=_shares(often[Rule.MEAN], len(setups)),
        best_at=_shares(drawn.argmax(axis=-1), len(setups)),
    )


def _common(values: Floats, part: PooledCells, titles: Sequence[str], setups: Sequence[str]) -> Floats:
    """(..., T, C) of the titles and setups named."""
    rows = np.array([part.titles.index(t) for t in titles])
    columns = np.array([part.setups.index(s) for s in setups])
    return np.asarray(values[..., rows[:, None], columns])


def _added(fixed: Mapping[tuple[str, str], float], titles: Sequence[str], setups: Sequence[str], total: float) -> Floats:
    """(T, C): what is known beside the frames, or nothing."""
    if not all((t, s) in fixed for t in titles for s in setups):
        return np.zeros((len(titles), len(setups)))
    return np.array([[fixed[t, s] for s in setups] for t in titles]) / total


def _shares(named: npt.NDArray[np.intp], setups: int) -> Floats:
    """(..., C): how often each setup is named along the first axis."""
    return np.asarray(np.stack([(named == c).mean(axis=0) for c in range(setups)], axis=-1))
