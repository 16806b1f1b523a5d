"""Mann-Kendall and Theil-Sen: US EPA QA/G-9S (2006) p. 109 (case 11a) and vectors computed in R (case 11b)."""

import numpy as np
import pytest

from evenhand.stats.trend import mann_kendall, theil_sen

VECTORS = [("11a-trend-epa-example", "epa")] + [("11b-trend-vectors", v) for v in ("drift_n15", "flat_n10", "wisconsin5")]


@pytest.mark.parametrize(("case", "vector"), VECTORS)
def test_mann_kendall(reference, case, vector):
    stored = reference(case)
    expected = stored["expected"][vector]
    found = mann_kendall(stored["inputs"]["vectors"][vector])
    assert found.s == expected["S"]
    assert found.var_s == pytest.approx(expected["var_S"], rel=1e-9)
    assert found.z == pytest.approx(expected["Z"], rel=1e-9)
    exact = expected["p_exact_two_sided"]
    assert found.p == pytest.approx(expected["p_two_sided"] if exact is None else exact, rel=1e-9)


@pytest.mark.parametrize(("case", "vector"), VECTORS)
def test_theil_sen(reference, case, vector):
    stored = reference(case)
    y = stored["inputs"]["vectors"][vector]
    slope = theil_sen(y, np.arange(1, len(y) + 1))
    assert slope == pytest.approx(stored["expected"][vector]["theil_sen_slope"], rel=1e-9)


def test_ends_of_what_can_be_asked():
    flat = mann_kendall([3, 3, 3])
    assert (flat.s, flat.z, flat.p) == (0, 0.0, 1.0)
    for bad in ([1.0], [1, np.nan], [[1, 2]]):
        with pytest.raises(ValueError, match="at least two finite"):
            mann_kendall(bad)
    with pytest.raises(ValueError, match="not all equal"):
        theil_sen([1, 2], [5, 5])
