"""What visits and runs cost, and which numbers of them the hours allow."""

import math

import pytest

from evenhand.planning.minutes import Bill
from evenhand.rehearsal.hours import MOST_RUNS, offers, repetitions
from evenhand.rehearsal.model import Spreads
from evenhand.study.model import Costs

SPREADS = Spreads(run=0.02, title=0.01, visit=0.0, round=0.0, source="stated")
BILL = Bill(Costs(), visit=16, scenes=7)


def test_offers_fit_the_hours_and_one_run_more_would_not():
    made, hours = BILL, 8.0
    found = offers(made, setups=3, warm_up_runs=1, hours=hours)
    assert [visits for visits, _ in found] == list(range(1, len(found) + 1)) and len(found) > 3
    for visits, runs in found:
        assert made.hours(3, visits, runs + 1) <= hours
        assert made.hours(3, visits, runs + 2) > hours or runs == MOST_RUNS
    assert made.hours(3, len(found) + 1, 2) > hours
    assert offers(made, 3, 0, 0.1) == []


def test_few_hours_that_do_for_a_plan_offer_that_plan():
    assert (3, 2) in offers(BILL, 4, 1, BILL.hours(4, 3, 3))


def test_more_runs_pay_where_a_visit_is_dear_and_runs_are_noisy():
    bill = Bill(Costs(), visit=12, scenes=3)
    found = repetitions(SPREADS, bill, titles=1, scenes=1)
    assert found.at_title == pytest.approx(math.sqrt(12 / 3 * 0.02**2 / 0.01**2))
    assert repetitions(SPREADS, Bill(Costs(), 84, 3), 1, 1).at_title > found.at_title


def test_over_titles_the_shared_shift_makes_runs_worth_less():
    shifting = Spreads(run=0.02, title=0.01, visit=0.01, round=0.0, source="stated")
    found = repetitions(shifting, Bill(Costs(), 12, 3), titles=10, scenes=20)
    assert found.over_titles < found.at_title
    alone = Spreads(run=0.02, title=0.0, visit=0.0, round=0.0, source="stated")
    assert repetitions(alone, Bill(Costs(), 12, 3), 10, 10).at_title == math.inf
