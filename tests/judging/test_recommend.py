"""The recommendation on tables of runs whose truth is known."""

from dataclasses import replace

import pytest
from invented_runs import RATE, WAIT, design, study

from evenhand.judging.advice.model import Preferences, Reason, Rule
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.judge import judge
from evenhand.judging.model import Verdict
from evenhand.study.model import Inputs, Stated

RATE_ALONE = Preferences({"rate": 1.0})
BRINGS = {"B": (Stated("draws less", {"watts": -24.0}),)}


def advised(rows, preferences=RATE_ALONE, setups="ABCD", *measures, **more):
    return recommend(judge(rows, design(setups, *measures, **more)), preferences)


def changed(rows, title, setup, share, measure="rate"):
    wanted = (title, setup, measure)
    return [replace(r, value=r.value * share) if (r.title, r.setup, r.measure) == wanted else r for r in rows]


def test_what_is_ahead_beyond_the_margin_is_named_with_its_exceptions():
    rows = changed(study(titles=12, effects=(0, 0, 0.08, -0.08)), "title 3", "C", 0.8)
    found = advised(rows)
    assert (found.setup, found.reason, found.rivals, found.open) == ("C", Reason.AHEAD, (), ())
    assert [(c.title, c.setup, c.against) for c in found.exceptions] == [("title 3", "C", "A")]
    assert found.exceptions[0].verdict is Verdict.BEHIND_BEYOND
    c = found.of("C")
    assert c.behind == ("title 3",) and len(c.ahead) == 11 and c.measures[0].within == 11
    assert c.measures[0].worst_title == "title 3" and c.measures[0].worst_regret == pytest.approx(0.15, abs=0.03)
    assert found.of("D").measures[0].within == 0 and len(found.of("D").behind) == 12
    assert c.best_chance is not None and c.best_chance > 0.95


def test_the_baseline_stays_where_nothing_is_better():
    found = advised(study(titles=12, effects=(0, 0.005, -0.005, -0.08)))
    assert (found.setup, found.reason, found.open, found.exceptions) == ("A", Reason.NONE_BETTER, (), ())


def test_a_title_where_another_setup_is_better_is_an_exception_of_the_baseline():
    rows = changed(study(titles=12, effects=(0, 0, 0, 0), noise=0.004, shift=0.002), "title 5", "B", 1.2)
    found = advised(rows)
    assert found.setup == "A" and [(c.title, c.setup, c.verdict) for c in found.exceptions] == [
        ("title 5", "B", Verdict.AHEAD_BEYOND)
    ]


def test_what_is_ahead_by_an_unknown_amount_leaves_it_open():
    found = advised(study(titles=4, effects=(0, 0.03, 0, 0), noise=0.02, shift=0.015, visits=2))
    assert (found.setup, found.reason) == ("A", Reason.OPEN) and "B" in found.open


def test_a_benefit_is_reason_enough_where_nothing_is_lost():
    rows = study(titles=12, effects=(0, 0, 0, -0.08), noise=0.004, shift=0.002)
    found = advised(rows, replace(RATE_ALONE, brings=BRINGS))
    assert (found.setup, found.reason) == ("B", Reason.BENEFIT)
    assert found.of("B").brings[0].numbers == {"watts": -24.0} and found.of("C").brings == ()
    lost = advised(changed(rows, "title 2", "B", 0.9), replace(RATE_ALONE, brings=BRINGS))
    assert (lost.setup, lost.reason) == ("A", Reason.NONE_BETTER) and lost.of("B").behind == ("title 2",)


def test_a_benefit_of_a_setup_that_may_be_behind_leaves_it_open():
    rows = study(titles=3, effects=(0, 0, -0.2, -0.2), noise=0.03, shift=0.02, visits=2)
    found = advised(rows, replace(RATE_ALONE, brings=BRINGS))
    assert (found.setup, found.reason) == ("A", Reason.OPEN) and "B" in found.open


def two_measures(rate, wait):
    return study(effects=rate) + study(effects=wait, measure="wait", seed=2)


def test_ahead_in_one_and_behind_in_another_is_a_trade_and_no_reason():
    found = advised(two_measures((0, 0.1), (0, 0.1)), Preferences({"rate": 1.0, "wait": 1.0}), "AB", RATE, WAIT)
    assert (found.setup, found.reason, found.trades) == ("A", Reason.NONE_BETTER, ("B",))


def test_a_measure_without_weight_does_not_count():
    found = advised(two_measures((0, 0.1), (0, 0.1)), RATE_ALONE, "AB", RATE, WAIT)
    assert (found.setup, found.trades, found.weights) == ("B", (), {"rate": 1.0})
    assert advised(study(), Preferences({"wait": 1.0})) is None


def test_of_two_that_are_ahead_the_one_not_told_from_it_is_its_rival():
    found = advised(study(titles=8, effects=(0, 0.1, 0.101, 0.06), noise=0.005, shift=0.002))
    assert {found.setup, *found.rivals} == {"B", "C"} and found.reason is Reason.AHEAD


def test_one_visit_a_setup_says_nothing():
    found = advised(study(visits=1, effects=(0, 0.2, 0, 0)))
    assert (found.setup, found.reason, found.open) == ("A", Reason.OPEN, ("B", "C", "D"))
    assert found.rules == () and found.of("B").best_chance is None and found.of("B").measures[0].worst_regret is None


def test_one_title_is_judged_at_that_title():
    found = advised(study(titles=1, effects=(0, 0.1, 0, 0), shift=0.002, noise=0.002))
    assert (found.setup, found.reason) == ("B", Reason.AHEAD) and found.of("B").measures[0].titles == 1


def test_a_setup_not_yet_recorded_is_open():
    found = advised([r for r in study(effects=(0, 0, -0.1, -0.1), noise=0.003, shift=0.001) if r.setup != "C"])
    assert found.reason is Reason.OPEN and "C" in found.open and found.of("C").best_chance is None


def test_shares_of_each_rule_and_title_sum_to_one():
    found = advised(study())
    assert [r.rule for r in found.rules] == list(Rule)
    assert all(sum(r.shares) == pytest.approx(1) for r in found.rules)
    assert all(sum(row) == pytest.approx(1) for row in found.title_chances.values()) and len(found.title_chances) == 6
    assert sum(s.best_chance for s in found.setups) == pytest.approx(1)


WATTS = {("title 0", "A"): 100.0, ("title 0", "B"): 80.0, ("title 1", "A"): 150.0, ("title 1", "B"): 110.0}


def test_power_is_described():
    found = advised(study(titles=2, effects=(0, 0)), replace(RATE_ALONE, inputs=Inputs(power=WATTS)), "AB")
    power = found.of("B").power
    assert (power.watts, power.titles) == (95.0, 2) and found.of("A").power.change == 0
    assert power.change == pytest.approx(-0.2667, abs=1e-3) and power.spread == pytest.approx(0.0616, abs=1e-3)
    assert power.energy is None  # no average frame rate among the measures
    assert found.power is None  # one number a setup: nothing to judge


def test_power_by_visits_is_judged_and_with_weight_a_reason():
    visits = {
        (f"title {t}", s, v): w * (1 + 0.01 * ((t + v) % 3))
        for t in range(6)
        for v in (1, 2, 3)
        for s, w in (("A", 100), ("B", 80))
    }
    inputs = Inputs(power={(t, s): w for (t, s, _), w in visits.items()}, power_visits=visits)
    rows = study(titles=6, effects=(0, 0), noise=0.003, shift=0.001)
    without = advised(rows, replace(RATE_ALONE, inputs=inputs), "AB")
    assert without.power.over[0].verdict is Verdict.AHEAD_BEYOND and without.setup == "A"
    assert {r.setup for r in without.rules if r.shares[1] > 0.9} == set()
    weighed = advised(rows, replace(RATE_ALONE, inputs=inputs, power=1.0), "AB")
    assert (weighed.setup, weighed.reason) == ("B", Reason.BENEFIT)
    assert all(r.setup == "B" and r.shares == (0.0, 1.0) for r in weighed.rules)
