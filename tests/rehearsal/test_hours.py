"""What visits and runs cost, and which numbers of them the hours allow."""

import math

import pytest

from evenhand.rehearsal.hours import MOST_RUNS, Bill, bill, offers, repetitions
from evenhand.rehearsal.model import Costs, Spreads

COSTS = Costs(apply=10, load=2, warm_up=1, scene=None, reset=1)
SPREADS = Spreads(run=0.02, title=0.01, visit=0.0, round=0.0, source="stated")


def test_the_hours_of_a_study_are_added_up():
    """By hand: 3 setups × 2 visits × (10 + 2 titles × 3 + 4 runs × (2 + 1 + 1 + 3 × 1)) minutes."""
    made = bill(COSTS, 2, (120.0, None, 60.0))
    assert made == Bill(10, 6, 7)
    assert made.hours(setups=3, visits=2, runs=4) == pytest.approx(3 * 2 * (10 + 6 + 28) / 60)


def test_a_stated_scene_counts_for_all():
    assert bill(Costs(scene=0.5, reset=0.0), 1, (120.0, None)).scenes == 1.0


def test_offers_fit_the_hours_and_one_run_more_would_not():
    made, hours = bill(COSTS, 2, (120.0, None, 60.0)), 8.0
    found = offers(made, setups=3, warm_up_runs=1, hours=hours)
    assert [visits for visits, _ in found] == list(range(1, len(found) + 1)) and len(found) > 3
    for visits, runs in found:
        assert made.hours(3, visits, runs + 1) <= hours
        assert made.hours(3, visits, runs + 2) > hours or runs == MOST_RUNS
    assert made.hours(3, len(found) + 1, 2) > hours
    assert offers(made, 3, 0, 0.1) == []


def test_few_hours_that_do_for_a_plan_offer_that_plan():
    made = bill(COSTS, 4, (60.0,) * 4)
    assert (3, 2) in offers(made, 4, 1, made.hours(4, 3, 3))


def test_more_runs_pay_where_a_visit_is_dear_and_runs_are_noisy():
    costs = Bill(apply=8, loads=4, scenes=3)
    found = repetitions(SPREADS, costs, titles=1, scenes=1)
    assert found.at_title == pytest.approx(math.sqrt(12 / 3 * 0.02**2 / 0.01**2))
    assert repetitions(SPREADS, Bill(80, 4, 3), 1, 1).at_title > found.at_title


def test_over_titles_the_shared_shift_makes_runs_worth_less():
    shifting = Spreads(run=0.02, title=0.01, visit=0.01, round=0.0, source="stated")
    found = repetitions(shifting, Bill(8, 4, 3), titles=10, scenes=20)
    assert found.over_titles < found.at_title
    alone = Spreads(run=0.02, title=0.0, visit=0.0, round=0.0, source="stated")
    assert repetitions(alone, Bill(8, 4, 3), 10, 10).at_title == math.inf
