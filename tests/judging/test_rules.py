"""The three rules, by hand and by their laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from evenhand.judging.advice.model import Rule
from evenhand.judging.advice.rules import choose, combined, regrets

#: B gains 2 margins at two titles and loses 3 at the third; C loses a little everywhere; D gains 0.3 everywhere.
GAINS = np.array([[0, 2, -0.1, 0.3], [0, 2, -0.1, 0.3], [0, -3, -0.1, 0.3]])
TABLES = arrays(np.float64, (5, 4), elements=st.floats(-5, 5, width=32))


def test_by_hand():
    chosen = choose(GAINS, np.ones(3))
    assert {rule: "ABCD"[int(c)] for rule, c in chosen.items()} == {Rule.MEAN: "B", Rule.WORST: "D", Rule.REGRET: "D"}
    assert regrets(GAINS)[2].tolist() == pytest.approx([0.3, 3.3, 0.4, 0.0])


def test_a_title_that_is_not_played_does_not_count():
    chosen = choose(GAINS, np.array([1.0, 1.0, 0.0]))
    assert {int(c) for c in chosen.values()} == {1}


def test_draws_and_votes_along_leading_axes():
    many = np.stack([GAINS, GAINS[:, ::-1]])
    chosen = choose(many, np.ones(3))
    assert chosen[Rule.MEAN].tolist() == [1, 2]
    votes = np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 1.0]])
    assert choose(GAINS, votes)[Rule.MEAN].tolist() == [1, 3]


@given(TABLES)
def test_the_mean_of_whole_regrets_would_name_what_the_mean_gain_names(gain):
    """Why the third rule counts from the margin on."""
    mean, regret = gain.mean(axis=0), regrets(gain).mean(axis=0)
    assert regret - regret.min() == pytest.approx(mean.max() - mean, abs=1e-9)


@given(TABLES)
def test_what_all_setups_gain_alike_at_a_title_changes_nothing_but_rounding(gain):
    moved = gain + np.array([3.0, 0.0, 0.0, -1.0, 0.5])[:, None]
    assert regrets(moved) == pytest.approx(regrets(gain), abs=1e-9)


@given(TABLES)
def test_a_setup_that_is_best_everywhere_is_named_by_all(gain):
    gain[:, 2] = gain.max() + 1.0
    assert {int(c) for c in choose(gain, np.ones(5)).values()} == {2}


@given(TABLES)
def test_the_best_has_no_regret(gain):
    found = regrets(gain)
    assert (found >= 0).all() and (found.min(axis=-1) == 0).all()


def test_measures_are_counted_in_margins():
    both = combined([np.array([[0.0, 0.06]]), np.array([[0.0, -0.10]])], [0.03, 0.05], [1.0, 1.0])
    assert both.tolist() == [[0.0, 0.0]]
    assert combined([np.array([[0.0, 0.06]])], [0.03], [2.0]).tolist() == [[0.0, 2.0]]
