"""Carry-over balance: Williams (1949), squares as the function `williams` of the R package crossdes makes them (case 13a)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from evenhand.planning.squares import williams


def counts(square):
    """(places per treatment, adjacent ordered pairs), as the case counts them."""
    treatments = square.shape[1]
    places = {int((square[:, j] == t).sum()) for j in range(treatments) for t in range(treatments)}
    pairs = np.zeros((treatments, treatments), dtype=int)
    for row in square:
        for a, b in itertools.pairwise(row.tolist()):
            pairs[a, b] += 1
    return sorted(places), sorted(set(pairs[~np.eye(treatments, dtype=bool)].tolist()))


@pytest.mark.parametrize(("name", "treatments"), [("n4", 4), ("n5", 5)])
def test_squares_have_the_published_balance(reference, name, treatments):
    case = reference("13a-carry-over-squares-4-5")
    theirs = np.array(case["inputs"]["squares"][name]) - 1
    expected = case["expected"][name]
    mine = williams(treatments)
    assert mine.shape == theirs.shape == (expected["rows"], expected["treatments"])
    assert counts(mine) == counts(theirs)
    places, pairs = counts(mine)
    assert places == expected["times_each_treatment_in_each_period"]
    assert pairs == expected["times_each_ordered_pair_is_adjacent"]


def test_the_published_square_is_ours_row_for_row(reference):
    theirs = np.array(reference("13a-carry-over-squares-4-5")["inputs"]["squares"]["n4"]) - 1
    assert {tuple(row) for row in theirs.tolist()} == {tuple(row) for row in williams(4).tolist()}


@pytest.mark.parametrize("treatments", [2, 3, 6, 7, 8, 11, 12])
def test_other_sizes_hold_the_defining_property(treatments):
    places, pairs = counts(williams(treatments))
    assert len(places) == 1
    assert len(pairs) == 1
