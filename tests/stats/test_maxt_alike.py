"""Critical values of contrasts that all have one correlation, against SciPy's multivariate t and the maximum modulus."""

import numpy as np
import pytest
from scipy import stats

from evenhand.stats import maxt


@pytest.mark.parametrize(("count", "correlation", "df"), [(3, 0.5, 7), (4, 0.2, 20), (5, 0.9, 5), (2, 0.0, 3)])
def test_against_multivariate_t(count, correlation, df):
    c = float(maxt.alike_quantile(count, correlation, df, 0.95))
    table = np.full((count, count), correlation) + (1 - correlation) * np.eye(count)
    inside = stats.multivariate_t(shape=table, df=df, seed=1).cdf([c] * count, lower_limit=[-c] * count)
    assert inside == pytest.approx(0.95, abs=2e-3)


@pytest.mark.parametrize("count", [1, 6, 30])
def test_without_correlation_and_noise_of_the_error(count):
    """Independent normals: (2 Φ(c) − 1)^count."""
    c = float(maxt.alike_quantile(count, 0.0, np.inf, 0.95))
    assert (2 * stats.norm.cdf(c) - 1) ** count == pytest.approx(0.95, abs=1e-3)


def test_studentised_maximum_modulus():
    """Stoline & Ury (1979, Technometrics 21, 87-93): upper 5 % points for 6 contrasts on 10 and 20 degrees of freedom, 3.10 and
    2.92 rounded; from memory, so held loosely, and exactly to the general max-t.
    """
    for df in (10, 20):
        c = float(maxt.alike_quantile(6, 0.0, df, 0.95))
        assert c == pytest.approx(float(maxt.quantile(np.eye(6), df, 0.95)), rel=2e-3)
    assert float(maxt.alike_quantile(6, 0.0, 10, 0.95)) == pytest.approx(3.10, abs=0.15)


def test_correlation_is_rounded_to_the_safe_side():
    values = maxt.alike_quantile(10, np.array([0.0, 0.32, 0.39, 0.3, 0.99]), 12, 0.95)
    assert values[1] == values[2] == values[3]
    assert values[0] > values[1] > values[4]
