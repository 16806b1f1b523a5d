"""Which setups cannot be told from the best; how often the best is among them is counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_runs import RATE, WAIT, design, study

from evenhand.judging.analysis import analyse
from evenhand.judging.best import against_best, constrained
from evenhand.judging.judge import judge
from evenhand.judging.model import AgainstBest, MeasureJudgement
from evenhand.judging.visits import Visits


def best(judged: MeasureJudgement, title: str | None) -> dict[str, AgainstBest]:
    return {b.setup: b for b in judged.best if b.title == title}


def test_a_setup_far_ahead_is_alone_and_others_are_behind_it():
    found = best(judge(study(effects=(0.0, 0.0, 0.2)), design("ABC")).measures["rate"], "title 0")
    assert [s for s, b in found.items() if b.may_be_best] == ["C"]
    assert found["C"].interval.low == 0 and found["C"].interval.high > 0.18
    assert found["A"].interval.high == 0 and found["A"].interval.low < -0.18
    assert found["C"].estimate == pytest.approx(0.2, abs=0.03)


def test_setups_alike_may_all_be_best():
    judged = judge(study(effects=(0.0, 0.0, 0.0), titles=1, noise=0.03, seed=4), design("ABC")).measures["rate"]
    found = best(judged, "title 0")
    assert all(b.may_be_best and b.interval.low < 0 < b.interval.high for b in found.values())
    assert best(judged, None) == {}, "one title is no mean over titles"


def test_where_less_is_better_the_least_is_best_and_the_sign_stays_that_of_the_value():
    rows = study(effects=(0.0, 0.0, 0.2, -0.2), measure="wait")
    found = best(judge(rows, design("ABCD", WAIT)).measures["wait"], None)
    assert [s for s, b in found.items() if b.may_be_best] == ["D"]
    assert found["D"].estimate == pytest.approx(-0.2, abs=0.03)
    assert found["D"].interval.high == 0 and found["C"].interval.low == 0 < found["C"].interval.high


def test_turned_values_give_turned_answers():
    rows = study(effects=(0.0, 0.01, 0.02, -0.02), seed=8)
    turned = [replace(r, measure="wait", value=1 / r.value) for r in rows]
    one, other = judge(rows, design("ABCD", RATE)).measures["rate"], judge(turned, design("ABCD", WAIT)).measures["wait"]
    for a, b in zip(one.best, other.best, strict=True):
        assert (a.title, a.setup, a.may_be_best) == (b.title, b.setup, b.may_be_best)
        assert (a.interval.low, a.interval.high) == pytest.approx((-b.interval.high, -b.interval.low), abs=1e-9)


def test_one_visit_says_nothing_of_the_best():
    assert judge(study(visits=1), design()).measures["rate"].best == ()


def test_a_title_without_a_setup_compares_those_it_has():
    rows = [r for r in study() if not (r.title == "title 2" and r.setup == "C") and not (r.title == "title 3" and r.visit == 2)]
    judged = judge(rows, design(rounds=False)).measures["rate"]
    assert set(best(judged, "title 2")) == {"A", "B", "D"}
    assert set(best(judged, None)) == set("ABCD")
    assert [s for s, b in best(judged, None).items() if b.may_be_best] == ["C"]


def test_constrained_ends_by_hand():
    """Three setups at 10, 9 and 4 with an allowance of 2: the third is out, and what is against it leaves no trace."""
    value = np.array([10.0, 9.0, 4.0])
    low, high, may = constrained(value[:, None] - value[None, :], np.full((3, 3), 2.0))
    assert may.tolist() == [True, True, False]
    assert low.tolist() == [-1.0, -3.0, -8.0]
    assert high.tolist() == [3.0, 1.0, 0.0]


@pytest.mark.parametrize("effects", [(0.0, 0.0, 0.0, 0.0), (0.0, -0.01, -0.01, -0.03)])
@pytest.mark.parametrize("seed", [11])
def test_the_true_best_is_among_those_that_cannot_be_told_from_it(effects, seed):
    """At least 95 % of 1500 studies, less two Monte Carlo standard errors (1.1 points), at a title and over titles."""
    rng = np.random.default_rng(seed)
    plan = design("ABCD", rounds=False)
    hits = {"title 0": 0, None: 0}
    studies = 1500
    for _ in range(studies):
        means = np.array(effects)[None, :, None] + rng.normal(0, 0.01, (1, 4, 3)) + rng.normal(0, 0.02, (3, 4, 3))
        visits = Visits(RATE, ("title 0", "title 1", "title 2"), means, np.ones(means.shape, dtype=np.intp), None, 0.0, ())
        for found in against_best(analyse(visits, plan, False)):
            if found.setup == "A" and found.title in hits:
                hits[found.title] += found.may_be_best
    assert min(hits.values()) / studies > 0.95 - 2 * np.sqrt(0.05 * 0.95 / studies), hits
