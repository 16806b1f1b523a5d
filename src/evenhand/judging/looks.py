"""Which look at the study this is, and at what confidence it may judge: error spent over planned looks, or precision reached.

A look that was planned is tested at the level that the spending function leaves for it. One that was not gets the stricter of two
levels: of the planned look before it, and of the function at the share of visits that is in; its total error is then computed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

import numpy as np

from evenhand.judging.critical import pairs_quantile
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.model import Look, OverTitles, Precision
from evenhand.stats import spending as stats
from evenhand.study.model import Spending

FUNCTIONS: Final[Mapping[Spending, stats.Spending]] = MappingProxyType(
    {Spending.OBRIEN_FLEMING: stats.obrien_fleming, Spending.POCOCK: stats.pocock}
)
#: Share of the error that several looks keep back: levels of a known variance serve for one that is estimated anew at each look,
#: which crosses by a tenth more often (counted: docs/methods/looks.md).
RESERVE: Final = 0.12
#: Degrees of freedom of the visits' shift below which precision is not believed: a half-width that came out small by chance would
#: end the study (counted there too).
LEAST_DF: Final = 8
#: More visits than this are no longer a plan.
MOST_FURTHER: Final = 20


def look_at(
    visits: Sequence[int], planned: Sequence[int], spending: Spending = Spending.OBRIEN_FLEMING, confidence: float = 0.95
) -> Look:
    """The look that these visits are.

    visits : of each setup that has any. planned : numbers of visits at which looks are planned, ascending; one number = judged
    once, when all are in. confidence : of the whole study.
    """
    fewest, most, plan = min(visits), max(visits), tuple(planned)
    number = plan.index(fewest) + 1 if fewest == most and fewest in plan else None
    error = round(1 - confidence, 12)
    if len(plan) == 1:
        confidences = confidence, INNER_CONFIDENCE
    else:
        inner = _level(fewest, plan, spending, 1 - INNER_CONFIDENCE)
        confidences = _confidence(_level(fewest, plan, spending, error)), _confidence(inner)
    spent = float(FUNCTIONS[spending](fewest / plan[-1], error)) if len(plan) > 1 and fewest < plan[-1] else error
    total = error if number else _total(fewest, plan, spending, error, 1 - confidences[0])
    return Look(fewest, most, plan, number, *confidences, spent, total)


def _confidence(level: float) -> float:
    """1 − level, rounded up to a hundredth of a per cent, as it is printed."""
    return min(math.ceil((1 - level) * 1e4 - 1e-6) / 1e4, 0.9999)


def _level(visits: int, plan: tuple[int, ...], spending: Spending, error: float) -> float:
    """Two-sided level of a look at so many visits of a setup."""
    levels = _levels(plan, spending, error)
    if visits in plan:
        return levels[plan.index(visits)]
    before = sum(n < visits for n in plan)
    if before == len(plan):
        return levels[-1]
    here = _levels((*plan[:before], visits, plan[-1]), spending, error)[before]
    return min(here, levels[before - 1]) if before else here


def _levels(plan: tuple[int, ...], spending: Spending, error: float) -> tuple[float, ...]:
    usable = error * (1 - RESERVE) if len(plan) > 1 else error
    return stats.nominal_levels(FUNCTIONS[spending], tuple(n / plan[-1] for n in plan), usable)


def _total(visits: int, plan: tuple[int, ...], spending: Spending, error: float, level: float) -> float:
    """Error of the planned looks and this one together; where only some setups have more visits than at a look, half-way on."""
    at = visits + 0.5 if visits in plan else float(visits)
    levels = {**dict(zip(map(float, plan), _levels(plan, spending, error), strict=True)), at: level}
    looks = sorted(levels)
    crossed = float(stats.crossed(looks, stats.boundary_of([levels[n] for n in looks]))[-1])
    return crossed / (1 - RESERVE) if len(plan) > 1 else crossed


def precision(over: Sequence[OverTitles], target: float, visits: float, setups: int, shift_df: float) -> Precision | None:
    """How sharp the comparisons with the baseline over titles are, against a half-width (on the measure's scale) to stop at; None
    where there is none that can be judged.

    shift_df : degrees of freedom of the visits' shift; with fewer than `LEAST_DF` recording goes on whatever the half-width.
    """
    known = round(shift_df, 6)
    if not over or known <= 0 or visits <= 1 or not all(math.isfinite(o.these.high) for o in over):
        return None
    needed = [further_for(o, target, visits, setups) for o in over]
    for_noise = max(math.ceil((visits - 1) * LEAST_DF / known + 1 - visits), 0)
    further = None if None in needed else max(for_noise, *(n for n in needed if n is not None))
    return Precision(target, max((o.these.high - o.these.low) / 2 for o in over), further, known < LEAST_DF)


def further_for(over: OverTitles, half: float, visits: float, setups: int) -> int | None:
    """Further visits of each setup after which the simultaneous interval over titles is expected to be no wider than ± `half`
    (on the measure's scale); 0 where it is already, None where none up to 20 is.

    The variance falls as 1/visits and the degrees of freedom grow as visits − 1. Nothing depends on the estimate.
    """
    more = np.arange(0, MOST_FURTHER + 1)
    df = over.df_these * (visits + more - 1) / (visits - 1)
    halves = pairs_quantile(setups, df, over.these.confidence) * over.se_these * np.sqrt(visits / (visits + more))
    reached = np.flatnonzero(halves <= half)
    return int(reached[0]) if reached.size else None
