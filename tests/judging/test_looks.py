"""Which look it is, what it may spend, and how many visits precision needs."""

import math
from dataclasses import replace

import numpy as np
import pytest

from evenhand.judging.judge import judge
from evenhand.judging.looks import LEAST_DF, RESERVE, further_for, look_at, precision
from evenhand.judging.model import Design, Interval, Verdict
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.simulate import Truth, rows, simulate
from evenhand.stats.spending import nominal_levels, obrien_fleming
from evenhand.study.model import Spending

PLAN = (2, 3, 4)


def test_planned_looks_share_out_the_error():
    looks = [look_at((n, n, n), PLAN) for n in PLAN]
    assert [look.number for look in looks] == [1, 2, 3]
    assert [look.final for look in looks] == [False, False, True]
    assert looks[0].confidence > looks[1].confidence > looks[2].confidence > 0.95
    assert looks[0].inner > looks[1].inner > looks[2].inner > 0.90
    assert [round(look.spent, 4) for look in looks] == [0.0031, 0.0193, 0.05]
    levels = nominal_levels(obrien_fleming, (0.5, 0.75, 1.0), 0.05 * (1 - RESERVE))
    assert [1 - look.confidence for look in looks] == pytest.approx(levels, abs=1e-4)
    assert {round(look.total, 9) for look in looks} == {0.05}


def test_a_look_that_was_not_planned_gets_the_stricter_level_and_its_cost():
    between = look_at((2, 3), PLAN)
    assert between.number is None
    assert between.confidence == look_at((2, 2), PLAN).confidence
    assert 0.05 < between.total < 0.0505
    early = look_at((2, 2), (3, 6))
    assert early.number is None and early.confidence > look_at((3, 3), (3, 6)).confidence
    even = look_at((3, 3), (2, 4), Spending.POCOCK)
    assert even.confidence > look_at((2, 2), (2, 4), Spending.POCOCK).confidence
    beyond = look_at((5, 5), PLAN)
    assert beyond.confidence == look_at((4, 4), PLAN).confidence and beyond.total > 0.06


def test_without_a_plan_the_whole_error_is_used_and_looking_early_costs():
    assert look_at((2, 2), (2,)).total == 0.05
    early = look_at((3, 3), (4,))
    assert (early.confidence, early.inner, early.number) == (0.95, 0.90, None)
    assert early.total == pytest.approx(0.073, abs=5e-4)
    assert look_at((2, 3), (2,)).total > 0.05  # a third visit here and there, after two were seen


def design(**more):
    levels = {s: {"limit": s} for s in ("s1", "s2", "s3")}
    factors = {"limit": ("s1", "s2", "s3")}
    return Design(("s1", "s2", "s3"), "s1", (CATALOGUE["average"],), levels=levels, factors=factors, **more)


def test_the_judge_uses_the_levels_of_the_look():
    table = rows(simulate(Truth(6, 3, 2, 2, 0.01, 0.005), np.random.default_rng(3)), 0, "average")
    look = look_at((2, 2, 2), PLAN)
    whole = judge(table, design()).measures["average"]
    early = judge(table, design(confidence=look.confidence, inner=look.inner)).measures["average"]
    for wide, narrow in zip((*early.comparisons, *early.over), (*whole.comparisons, *whole.over), strict=True):
        assert wide.estimate == narrow.estimate
        assert wide.inner.high > narrow.inner.high and wide.inner.confidence == look.inner
    assert {e.pointwise.confidence for e in early.effects} == {look.confidence} and early.effects
    for strict, usual in zip(early.effects, whole.effects, strict=True):
        assert strict.verdict is usual.verdict or strict.verdict is Verdict.OPEN
    assert all(e.simultaneous.low < w.simultaneous.low for e, w in zip(early.comparisons, whole.comparisons, strict=True))
    assert sum(c.verdict is Verdict.OPEN for c in early.comparisons) >= sum(c.verdict is Verdict.OPEN for c in whole.comparisons)


def test_further_visits_for_precision_do_not_depend_on_what_was_found():
    table = rows(simulate(Truth(8, 3, 3, 2, 0.02, 0.01), np.random.default_rng(5)), 0, "average")
    over = judge(table, design()).measures["average"].over[0]
    half = (over.these.high - over.these.low) / 2
    assert further_for(over, half * 1.001, 3, 3) == 0
    needed = further_for(over, half / 2, 3, 3)
    assert needed is not None and 3 < needed <= 9  # twice as sharp: four times the visits, fewer as degrees of freedom grow
    assert further_for(replace(over, estimate=9.0), half / 2, 3, 3) == needed
    assert further_for(over, half / 50, 3, 3) is None


def test_precision_is_not_believed_before_the_noise_is_known():
    table = rows(simulate(Truth(8, 3, 3, 2, 0.02, 0.01), np.random.default_rng(5)), 0, "average")
    judged = judge(table, design(rounds=False)).measures["average"]
    against = [o for o in judged.over if o.against == "s1"]
    half = max((o.these.high - o.these.low) / 2 for o in against)
    early = precision(against, half * 1.01, 3, 3, judged.noise.shift_df)
    assert judged.noise.shift_df == pytest.approx(6) and early is not None
    assert early.noise_unknown and not early.reached and early.further == 1  # 3 setups, 4 visits: 9 degrees of freedom
    known = precision(against, half * 1.01, 3, 3, LEAST_DF)
    assert known is not None and known.reached and known.reached_half == half
    assert precision(against, half / 50, 3, 3, LEAST_DF).further is None
    assert precision([], half, 3, 3, LEAST_DF) is None
    assert precision([replace(o, these=Interval(-math.inf, math.inf, 0.95)) for o in against], half, 1, 3, 0) is None
