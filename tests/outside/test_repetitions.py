"""Variance estimators and optimal counts of Kalibera & Jones (2013, revised; case 14a), on the paper's three-level example and
a planning example.
"""

import math

import numpy as np
import pytest

from evenhand.rehearsal.hours import optimal_counts, unbiased_parts


def mean_squares(data):
    """S_i² of each level, lowest first: how the level's means spread around those of the level above, as the paper defines it."""
    found = []
    while data.ndim:
        found.append(float(data.var(axis=-1, ddof=1).mean()))
        data = data.mean(axis=-1)
    return found


@pytest.mark.parametrize("name", ["paper_three_level", "planning"])
def test_the_variance_that_each_level_adds(reference, name):
    case = reference("14a-multi-level-repetitions")
    data = np.array(case["inputs"]["examples"][name]["data"], dtype=float)
    expected = case["expected"][name]
    squares = mean_squares(data)
    np.testing.assert_allclose(squares, expected["S2"], rtol=1e-12)
    np.testing.assert_allclose(unbiased_parts(squares, data.shape[::-1]), expected["T2"], rtol=1e-12)


def test_the_counts_that_give_most_precision_for_the_time(reference):
    case = reference("14a-multi-level-repetitions")
    costs = case["inputs"]["examples"]["planning"]["costs_level_1_up"]
    expected = case["expected"]["planning"]
    counts = optimal_counts(expected["T2"], costs)
    np.testing.assert_allclose(counts, expected["optimal_repetitions_real"], rtol=1e-12)
    assert [math.ceil(c) for c in counts] == expected["optimal_repetitions"]


def test_a_level_that_adds_nothing_is_not_worth_repeating(reference):
    """The paper's example has a negative estimate at the second level."""
    parts = reference("14a-multi-level-repetitions")["expected"]["paper_three_level"]["T2"]
    assert parts[1] < 0
    assert optimal_counts(parts, (1.0, 1.0, 1.0)) == (math.inf, 0.0)
