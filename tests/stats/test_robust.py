"""Robust middle and spread against plain computations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from evenhand.stats.robust import MAD_TO_SD, median_without, spread, spread_about_zero


def test_the_factor_is_that_of_the_normal_law():
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SD


def test_spread_is_scipys_scaled_mad():
    x = np.random.default_rng(1).normal(3, 2, 51)
    assert spread(x) == pytest.approx(stats.median_abs_deviation(x, scale="normal"), rel=1e-6)
    assert spread_about_zero(x - np.median(x)) == pytest.approx(spread(x))


def test_nan_is_left_out_and_the_least_holds():
    assert spread([1.0, np.nan, 1.0], least=0.5) == 0.5
    assert np.isnan(spread([np.nan]))
    assert np.isnan(spread_about_zero([]))


@given(st.integers(1, 9), st.integers(1, 4), st.integers(0, 2**32 - 1))
def test_median_without_is_the_median_of_the_others(n, k, seed):
    rng = np.random.default_rng(seed)
    rows = rng.integers(0, 5, (n, k)).astype(float)  # ties included
    usable = rng.random(n) < 0.7
    found = median_without(rows, usable)
    for i in range(n):
        others = rows[[j for j in range(n) if j != i and usable[j]]]
        expected = np.median(others, axis=0) if len(others) else np.full(k, np.nan)
        np.testing.assert_array_equal(found[i], expected)
