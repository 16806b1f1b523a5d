"""Orders of visits and scenes: their balance, and that they can be made again."""

from __future__ import annotations

import itertools
from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenhand.planning.rounds import balance, rounds_of, scene_orders


@settings(max_examples=40, deadline=None)
@given(setups=st.integers(2, 6), count=st.integers(1, 8), seed=st.integers(0, 50))
def test_every_round_holds_each_setup_once(setups, count, seed):
    rounds = rounds_of(setups, count, seed)
    assert rounds.shape == (count, setups)
    assert (np.sort(rounds, axis=1) == np.arange(setups)).all()
    np.testing.assert_array_equal(rounds, rounds_of(setups, count, seed))


@pytest.mark.parametrize("setups", [3, 4, 5, 6])
@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_no_round_begins_with_what_ended_the_last(setups, count):
    assert balance(rounds_of(setups, count, seed=1)).repeats == 0


def test_two_setups_take_turns_in_being_first():
    """ABBA: B first as often as A, so a PC that warms up favours neither; between the rounds the setup is applied anew."""
    found = balance(rounds_of(2, 4, seed=3))
    assert found.drift == 0
    assert found.repeats == 2


@pytest.mark.parametrize("setups", [4, 6])
def test_a_whole_square_has_no_drift_and_follows_evenly(setups):
    rounds = rounds_of(setups, setups, seed=5)
    found = balance(rounds)
    assert found.drift == pytest.approx(0)
    assert found.repeats == 0
    within = np.zeros((setups, setups), dtype=int)
    for row in rounds:
        for a, b in itertools.pairwise(row):
            within[a, b] += 1
    assert (within[~np.eye(setups, dtype=bool)] == 1).all()


def test_few_rounds_are_the_best_of_all_orders():
    """Three rounds of four setups: no other choice of rows of the square is better balanced."""
    square = rounds_of(4, 4, seed=2)
    tried = [astuple(balance(square[list(rows)])) for rows in itertools.permutations(range(4), 3)]
    assert astuple(balance(rounds_of(4, 3, seed=2))) == min(tried)


def test_balance_is_counted_by_hand():
    """A B C | B C A: no repeat; mean places A 1, B 0.5, C 1.5; B after A once, C after B twice, A after B, B after C never ..."""
    found = balance(np.array([[0, 1, 2], [1, 2, 0]]))
    assert (found.repeats, found.drift, found.follows) == (0, 1.0, 2)
    assert balance(np.array([[0, 1, 2], [2, 1, 0]])).repeats == 1


def test_other_seed_other_order():
    assert any((rounds_of(4, 3, 1) != rounds_of(4, 3, seed)).any() for seed in range(2, 6))


@settings(max_examples=30, deadline=None)
@given(scenes=st.integers(1, 9), rounds=st.integers(1, 6), seed=st.integers(0, 20))
def test_scenes_are_each_played_once_a_visit(scenes, rounds, seed):
    orders = scene_orders(scenes, rounds, seed)
    assert (np.sort(orders, axis=1) == np.arange(scenes)).all()


def test_an_even_number_of_rounds_gives_every_scene_the_same_mean_place():
    places = np.argsort(scene_orders(7, 4, seed=1), axis=1)
    np.testing.assert_allclose(places.mean(axis=0), 3.0)
