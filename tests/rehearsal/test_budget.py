"""Visits go to what is near the best and to what is noisy."""

import numpy as np
import pytest

from evenhand.rehearsal.budget import next_draws, shares

EVEN = np.ones(4)


def test_what_is_near_the_best_gets_more_than_what_is_far():
    found = shares(np.array([3.0, 2.9, 2.0, 0.0]), EVEN)
    assert found.sum() == pytest.approx(1)
    assert found[0] > found[2] > found[3] and found[1] > found[2]


def test_designs_that_may_be_equal_need_a_least_difference():
    tied = np.array([1.0, 1.0, 0.0])
    with pytest.raises(ValueError, match="least difference"):
        shares(tied, np.ones(3))
    found = shares(tied, np.ones(3), least=0.5)
    assert np.isfinite(found).all() and found[1] > found[2]


def test_what_has_its_share_already_gets_nothing_and_all_are_given():
    means = np.array([3.0, 2.9, 2.0, 0.0])
    given = next_draws(means, EVEN, np.array([2, 2, 2, 30]), 7)
    assert given.sum() == 7 and given[3] == 0
    assert (next_draws(means, EVEN, np.zeros(4, dtype=np.intp), 0) == 0).all()


def test_a_noisy_design_gets_more():
    means = np.array([3.0, 2.0, 2.0])
    given = next_draws(means, np.array([1.0, 1.0, 4.0]), np.zeros(3, dtype=np.intp), 30)
    assert given[2] > given[1]
