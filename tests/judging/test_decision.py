"""Which setup is recommended, over every combination of verdicts of two setups in two measures."""

from itertools import product

import numpy as np
import pytest

from evenhand.judging.advice.decision import UNTOLD, decide_setup
from evenhand.judging.decide import AHEAD, BEHIND, VERDICTS
from evenhand.judging.model import Verdict

ALL = [*VERDICTS, Verdict.UNTOLD]
CODES = {v: UNTOLD if v is Verdict.UNTOLD else VERDICTS.index(v) for v in ALL}


def named(average, low, lead=(0, 1, 0.5), behind=(False, False, False), brings=(False, False, False), baseline=0):
    """Baseline A and setups B, C with these verdicts in average and low."""
    over = np.array([[CODES[Verdict.LEVEL], *(CODES[v] for v in row)] for row in (average, low)])
    return "ABC"[int(decide_setup(over, np.array(lead, float), np.array(behind), np.array(brings), baseline))]


@pytest.mark.parametrize(("average", "low"), list(product(ALL, ALL)))
def test_the_baseline_is_left_only_for_what_is_ahead_beyond_the_margin(average, low):
    answer = named((average, Verdict.LEVEL), (low, Verdict.LEVEL))
    better = Verdict.AHEAD_BEYOND in (average, low) and not {average, low} & BEHIND
    assert answer == ("B" if better else "A")


@pytest.mark.parametrize(("average", "low"), list(product(ALL, ALL)))
def test_a_benefit_is_enough_where_nothing_is_behind_or_open(average, low):
    answer = named((average, Verdict.OPEN), (low, Verdict.OPEN), brings=(False, True, False))
    firm = {average, low} <= AHEAD | {Verdict.LEVEL}
    better = Verdict.AHEAD_BEYOND in (average, low) and not {average, low} & BEHIND
    assert answer == ("B" if firm or better else "A")
    shut = named((average, Verdict.OPEN), (low, Verdict.OPEN), brings=(False, True, False), behind=(False, True, False))
    assert shut == ("B" if better else "A")


def test_of_several_the_one_with_the_highest_gain():
    both = (Verdict.AHEAD_BEYOND, Verdict.AHEAD_BEYOND)
    assert named(both, both) == "B" and named(both, both, lead=(9, 1, 2)) == "C"


def test_what_is_ahead_comes_before_what_brings_a_benefit():
    mixed = (Verdict.LEVEL, Verdict.AHEAD_BEYOND)
    assert named(mixed, mixed, lead=(0, 5, 1), brings=(False, True, False)) == "C"


def test_many_choices_at_once():
    over = np.array([[[5, 1, 0]], [[5, 0, 1]], [[5, 0, 0]]])
    lead, nobody = np.zeros((3, 3)), np.zeros((3, 3), dtype=bool)
    assert decide_setup(over, lead, nobody, np.zeros(3, dtype=bool), 0).tolist() == [1, 2, 0]
