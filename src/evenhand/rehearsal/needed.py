"""How many visits a design needs: chances by formula, with the degrees of freedom that judging finds in a few simulations."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np

from evenhand.judging.critical import pairs_quantile, t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.judge import LEAST_ROUND_DF
from evenhand.rehearsal.model import Needed
from evenhand.rehearsal.planned import simulated
from evenhand.rehearsal.power import chance_ahead, chance_level, smallest
from evenhand.rehearsal.simulate import Truth

#: More visits of each setup than this are not asked for.
MOST_NEEDED: Final = 20
#: Simulated studies from which the usual degrees of freedom are taken.
_FEW: Final = 50
#: More titles than this hardly change them.
_ENOUGH_TITLES: Final = 10


def round_term(setups: int, visits: int, asked: bool | None) -> bool:
    """Whether the analysis of a complete plan takes rounds out, as `judge` decides it."""
    df = (setups - 1) * (visits - 1)
    return df > 0 if asked else asked is None and df >= LEAST_ROUND_DF


def true_error(truth: Truth, visits: int) -> float:
    """Standard deviation of the estimated difference of two setups at a title; what a round shares is not in it."""
    return math.sqrt(2.0 * (truth.visit_shift**2 + truth.title_shift**2 + truth.run_noise**2 / truth.runs) / visits)


def needed(truth: Truth, asked_rounds: bool | None, margin: float, confidence: float, seed: int) -> Needed:
    """Visits of each setup at which, at a title, a difference of twice the margin is found and a tie ends level four times in
    five. truth : its own number of visits is not looked at.
    """

    titles = min(truth.titles, _ENOUGH_TITLES)

    @cache
    def error(visits: int) -> tuple[float, float]:
        rounds = round_term(truth.setups, visits, asked_rounds)
        tried = replace(truth, titles=titles, visits=visits, absent=())
        found = simulated(tried, rounds, np.ones(titles), _FEW, seed, confidence)
        return true_error(truth, visits), float(np.median(found.at_titles.df))

    def finds(visits: int) -> float:
        se, df = error(visits)
        return chance_ahead(2.0 * margin, se, df, float(pairs_quantile(truth.setups, df, confidence))) if se > 0 else 1.0

    def ties(visits: int) -> float:
        se, df = error(visits)
        return chance_level(0.0, -margin, margin, se, df, float(t_quantile(df, INNER_CONFIDENCE))) if se > 0 else 1.0

    return Needed(smallest(finds, 2, MOST_NEEDED), smallest(ties, 2, MOST_NEEDED), MOST_NEEDED)
