"""Minutes of visits and hours of studies, added up by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planned import COSTS, study

from evenhand.planning.minutes import Bill, bill, visit_minutes
from evenhand.planning.plan import plan


def test_minutes_of_a_visit_are_those_of_its_parts():
    """6 to apply, 4 to settle; each title 2 to load, 1 warm-up, two runs of 1 minute and half a minute back to the start."""
    asked = study()
    assert visit_minutes(asked, asked.titles, asked.setups[0]) == pytest.approx(6 + 4 + 3 * (2 + 1 + 2 * 1.5))
    slow = replace(asked.setups[1], minutes=20.0)
    longer = (replace(asked.titles[0], minutes=5.0), *asked.titles[1:])
    assert visit_minutes(asked, longer, slow) == pytest.approx(20 + 4 + 3 * 6 + 3)
    building = study(costs=replace(COSTS, shaders=2.0))
    assert visit_minutes(building, building.titles, building.setups[0], first=True) == pytest.approx(28 + 6)


def test_the_bill_of_a_study():
    """Three titles of one scene: 6 + 4 + 3 × (2 + 1) before the first run, 3 × 1.5 to record every scene once."""
    assert bill(study()) == Bill(COSTS, 19, 4.5)
    building = study(costs=replace(COSTS, shaders=2.0))
    assert bill(building).hours(setups=4, visits=2, runs=2) == pytest.approx(4 * (2 * (19 + 9) + 6) / 60)


@pytest.mark.parametrize("setups", [3, 4, 5])
def test_the_bill_and_the_plan_agree(setups):
    asked = study(setups=setups, costs=replace(COSTS, shaders=2.0))
    asked = replace(asked, setups=(replace(asked.setups[0], minutes=13.0), *asked.setups[1:]))
    assert bill(asked).hours(setups, 3, 2) == pytest.approx(plan(asked, 1).minutes / 60)


@pytest.mark.parametrize("hours", [6.0, 9.0, 20.0])
def test_one_run_more_than_the_most_does_not_fit(hours):
    made = bill(study(costs=replace(COSTS, shaders=2.0)))
    most = made.most_runs(4, 2, hours)
    assert made.hours(4, 2, most) <= hours < made.hours(4, 2, most + 1)
