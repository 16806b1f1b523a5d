"""Grubbs' test on the uranium data of the NIST/SEMATECH e-Handbook 1.3.5.17.1 (case 17a); modified z scores of Iglewicz &
Hoaglin (1993; case 17b: published rule, numbers computed).
"""

import numpy as np
import pytest

from evenhand.stats.outliers import APART, grubbs, modified_z


def test_grubbs(reference):
    case = reference("17a-grubbs-uranium")
    x, expected = case["inputs"]["x"], case["expected"]
    found = grubbs(x, case["inputs"]["alpha"])
    assert x[found.index] == expected["outlier"]
    assert found.g == pytest.approx(expected["G"], rel=1e-8)
    assert found.critical_one_sided == pytest.approx(expected["critical_one_sided"], rel=1e-8)
    assert found.critical_two_sided == pytest.approx(expected["critical_two_sided"], rel=1e-8)
    # G lies next to its largest possible value here: the p value carries eight digits at most.
    assert found.p_one_sided == pytest.approx(expected["p_one_sided"], rel=1e-5)
    assert found.p_two_sided == pytest.approx(expected["p_two_sided"], rel=1e-5)
    for printed in case["published"]:
        value = {"G": found.g, "critical_one_sided": found.critical_one_sided, "critical_two_sided": found.critical_two_sided}
        assert value.get(printed["path"], printed["value"]) == pytest.approx(
            printed["value"], abs=max(printed["tolerance"], 1e-4)
        )


@pytest.mark.parametrize("vector", ["uranium", "runs"])
def test_modified_z(reference, vector):
    case = reference("17b-modified-z")
    expected = case["expected"][vector]
    found = modified_z(case["inputs"]["vectors"][vector])
    np.testing.assert_allclose(found, expected["modified_z"], rtol=1e-9, atol=1e-9)
    assert case["inputs"]["threshold"] == APART
    assert np.flatnonzero(np.abs(found) > APART).tolist() == expected["flagged_zero_based"]


def test_no_spread_cannot_tell_unless_a_least_spread_is_stated(reference):
    ties = reference("17b-modified-z")["inputs"]["vectors"]["ties"]
    assert np.all(np.isnan(modified_z(ties)))
    assert modified_z(ties, least_mad=0.5)[6] == pytest.approx(0.6745 * 4 / 0.5)


def test_ends_of_what_can_be_asked():
    assert grubbs([2, 2, 2]) is None
    for bad in ([1, 2], [1, 2, np.inf]):
        with pytest.raises(ValueError, match="at least 3"):
            grubbs(bad)
    with pytest.raises(ValueError, match="at least 1"):
        modified_z([])
