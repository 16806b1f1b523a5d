"""Modified z scores of Iglewicz & Hoaglin (1993; case 17b: published rule, numbers computed), as the screening takes them."""

import numpy as np
import pytest

from evenhand.screening.catalogue import CHECKS
from evenhand.stats.robust import spread

#: Checks whose figure is a distance from the middle in robust standard deviations.
BY_DISTANCE = ("odd-run", "first-run", "busy-machine", "wrong-setup")


def distances(x, least=0.0):
    return (np.asarray(x) - np.median(x)) / spread(x, least)


@pytest.mark.parametrize("vector", ["uranium", "runs"])
def test_the_distance_is_the_modified_z(reference, vector):
    """The book rounds the normal quantile of 3/4 to 0.6745; ours has all digits."""
    case = reference("17b-modified-z")
    expected = case["expected"][vector]
    found = distances(case["inputs"]["vectors"][vector])
    np.testing.assert_allclose(found, expected["modified_z"], rtol=2e-5, atol=1e-9)
    for slug in BY_DISTANCE:
        assert CHECKS[slug].threshold == case["inputs"]["threshold"]
        assert np.flatnonzero(np.abs(found) > CHECKS[slug].threshold).tolist() == expected["flagged_zero_based"]


def test_no_spread_needs_a_least_one(reference):
    """Where most values are equal the rule has no scale; every check states the least spread that it takes for one."""
    ties = reference("17b-modified-z")["inputs"]["vectors"]["ties"]
    assert spread(ties) == 0
    assert np.flatnonzero(np.abs(distances(ties, least=0.5)) > 3.5).tolist() == [6]
