"""Geometric means of normalised results: Fleming & Wallace (1986; table from memory, the property is what is tested; 12a),
Null & Lobur, tables 10.4 and 10.5 (12b), two programs on three computers (encyclopaedia article; 12c).
"""

import numpy as np
import pytest

from evenhand.stats.geomean import geomean, relative_geomeans

CASES = ["12a-geomean-fleming-wallace", "12b-geomean-null-lobur", "12c-geomean-two-programs"]


@pytest.mark.parametrize("name", CASES)
def test_means_and_their_ranking(reference, name):
    case = reference(name)
    names = list(case["inputs"]["systems"])
    times = np.array([case["inputs"]["systems"][s] for s in names], float)
    raw = case["expected"]["raw"]["geometric_mean"]
    np.testing.assert_allclose(geomean(times), [raw[s] for s in names], rtol=1e-10)
    faster_is_more = case["inputs"]["ratio"].startswith("time of reference")
    rankings = set()
    for i, against in enumerate(names):
        expected = case["expected"]["normalised_to"][against]["geometric_mean"]
        found = relative_geomeans(1 / times if faster_is_more else times, i)
        np.testing.assert_allclose(found, [expected[s] for s in names], rtol=1e-10)
        rankings.add(tuple(np.argsort(np.round(-found if faster_is_more else found, 12), kind="stable")))
    assert len(rankings) == 1  # the ranking does not depend on the reference


def test_the_arithmetic_mean_reverses(reference):
    """Each machine comes out best by the arithmetic mean of ratios when it is the reference (Fleming & Wallace 1986)."""
    case = reference("12a-geomean-fleming-wallace")
    times = np.array(list(case["inputs"]["systems"].values()), float)
    for i in range(3):
        assert np.argmin((times / times[i]).mean(axis=1)) == i


def test_weights_and_nonsense():
    assert geomean([1.0, 8.0], [2, 1]) == pytest.approx(2.0)
    for bad in ([], [0.0, 1.0], [1.0, -1.0], [np.nan], [np.inf]):
        with pytest.raises(ValueError, match="above zero"):
            geomean(bad)
