"""Simultaneous intervals: PlantGrowth (Dobson 1983) and warpbreaks (Tippett 1950; Tukey 1977) as Tukey's method and single-step
max-t give them in R (cases 07a, 07b); the studentised range of SciPy at other sizes and degrees of freedom.
"""

import numpy as np
import pytest
from scipy import stats

from evenhand.stats import maxt


def pair_correlation(means):
    rows = np.array([np.eye(means)[b] - np.eye(means)[a] for a in range(means) for b in range(a + 1, means)])
    return rows @ rows.T / 2


def test_tukey_intervals_of_plant_growth(reference):
    expected = reference("07a-simultaneous-plant-growth")["expected"]
    se, df = expected["single_step_max_t_all_pairs"]["se"][0], expected["anova"]["df"][1]
    half = maxt.pairs_quantile(3, df, 0.95) * se
    tukey = expected["tukey_kramer"]
    np.testing.assert_allclose(np.array(tukey["estimate"]) - half, tukey["ci_low"], rtol=1e-4)
    np.testing.assert_allclose(np.array(tukey["estimate"]) + half, tukey["ci_high"], rtol=1e-4)


def test_single_step_p_and_critical_value(reference):
    """Quasi-random integration on both sides: 1e-3 absolute on p, 2e-3 relative on the critical value, as the case says."""
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_all_pairs"]
    np.testing.assert_allclose(maxt.adjusted_p(case["t"], pair_correlation(3), 27), case["p_single_step"], atol=1e-3)
    assert maxt.quantile(pair_correlation(3), 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)


def test_comparisons_with_the_first_only(reference):
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_versus_first"]
    correlation = np.array([[1, 0.5], [0.5, 1]])
    assert maxt.quantile(correlation, 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)
    np.testing.assert_allclose(maxt.adjusted_p(case["t"], correlation, 27), case["p_single_step"], atol=1e-3)


def test_two_families_of_pairs_at_once(reference):
    """07b: three pairs within each of two wools, independent of each other."""
    case = reference("07b-simultaneous-warpbreaks")["expected"]["simple_effects_of_B_max_t_over_all"]
    correlation = np.kron(np.eye(2), [[1, 0.5, -0.5], [0.5, 1, 0.5], [-0.5, 0.5, 1]])
    half = maxt.quantile(correlation, 48, 0.95) * case["se"][0]
    np.testing.assert_allclose(half, (np.array(case["ci_high"]) - case["ci_low"]) / 2, rtol=2e-3)
    np.testing.assert_allclose(maxt.adjusted_p(case["t"], correlation, 48), case["p"], atol=1e-3)


def test_simple_effects_within_each_family(reference):
    case = reference("07b-simultaneous-warpbreaks")["expected"]["simple_effects_of_B_tukey_within_A"]
    half = maxt.pairs_quantile(3, 48, 0.95) * case["se"][0]
    np.testing.assert_allclose(half, (np.array(case["ci_high"]) - case["ci_low"]) / 2, rtol=1e-4)


@pytest.mark.parametrize("means", [2, 3, 4, 6])
@pytest.mark.parametrize("df", [1, 1.5, 2, 3.3, 7, 27, 60])
def test_quantiles_are_those_of_the_studentised_range(means, df):
    expected = stats.studentized_range.ppf(0.95, means, df) / np.sqrt(2)
    assert maxt.pairs_quantile(means, df, 0.95) == pytest.approx(expected, rel=1e-4)
    assert maxt.quantile(pair_correlation(means), df, 0.95) == pytest.approx(expected, rel=2e-3)


def test_two_means_are_students_t():
    df = np.array([1.0, 2.7, 12.0, 400.0])
    np.testing.assert_allclose(maxt.pairs_quantile(2, df, 0.9), stats.t.ppf(0.95, df), rtol=3e-4)


def test_the_same_quantile_every_time():
    correlation = np.array([[1, 0.3, 0.1], [0.3, 1, 0.7], [0.1, 0.7, 1]])
    maxt._general_curve.cache_clear()
    first = maxt.quantile(correlation, [2.5, 9.0], 0.95)
    maxt._general_curve.cache_clear()
    assert (first == maxt.quantile(correlation, [2.5, 9.0], 0.95)).all()
