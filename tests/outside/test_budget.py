"""Optimal computing budget allocation: worked examples of Chen & Lee (2010, pp. 49 and 215) after Chen, Lin, Yücesan & Chick
(2000), case 15a.
"""

import numpy as np
import pytest

from evenhand.rehearsal.budget import next_draws, shares


def example(case, name):
    """Means with the best as the largest, variances of one draw."""
    inputs = case["inputs"]["examples"][name]
    sign = -1.0 if inputs["best"] == "min" else 1.0
    return sign * np.array(inputs["means"], dtype=float), np.array(inputs["variances"], dtype=float), inputs


@pytest.mark.parametrize("name", ["total_50", "incremental_100"])
def test_shares_of_all_draws(reference, name):
    case = reference("15a-budget-allocation")
    means, variances, _ = example(case, name)
    assert int(np.argmax(means)) == case["expected"][name]["best_index"]
    np.testing.assert_allclose(shares(means, variances), case["expected"][name]["fractions"], rtol=1e-10)


def test_whole_draws_from_the_start(reference):
    case = reference("15a-budget-allocation")
    means, variances, inputs = example(case, "total_50")
    given = next_draws(means, variances, np.zeros(5, dtype=np.intp), inputs["total"])
    assert given.tolist() == case["expected"]["total_50"]["target_nearest"]


def test_further_draws_beside_those_made(reference):
    """Integer rules differ between implementations: within 2 of the printed ones, and the total is kept."""
    case = reference("15a-budget-allocation")
    means, variances, inputs = example(case, "incremental_100")
    given = next_draws(means, variances, np.array(inputs["already_used"]), inputs["additional"])
    expected = case["expected"]["incremental_100"]
    assert given.sum() == inputs["additional"]
    np.testing.assert_allclose(given, expected["additional_real"], atol=1.0)
    np.testing.assert_allclose(given, expected["additional_truncated_remainder_to_best"], atol=2)
