"""Simultaneous intervals: PlantGrowth (Dobson 1983) and warpbreaks (Tippett 1950; Tukey 1977) as Tukey's method and single-step
max-t give them in R (cases 07a, 07b); the studentised range of SciPy at other sizes and degrees of freedom.
"""

import numpy as np
import pytest
from judged import judged
from scipy import stats

from evenhand.measures.model import Scale
from evenhand.stats import maxt


def pair_correlation(means):
    rows = np.array([np.eye(means)[b] - np.eye(means)[a] for a in range(means) for b in range(a + 1, means)])
    return rows @ rows.T / 2


def test_tukey_intervals_of_plant_growth(reference):
    """Through the whole judgement: groups are setups of one title, plants their visits."""
    case = reference("07a-simultaneous-plant-growth")
    inputs, expected = case["inputs"], case["expected"]
    groups = {
        ("plants", level): [y for y, g in zip(inputs["y"], inputs["group"], strict=True) if g == level]
        for level in inputs["levels"]
    }
    found = judged(groups, Scale.DIFFERENCE)
    assert (found.noise.shift**2, found.noise.shift_df) == pytest.approx(
        (expected["anova"]["mean_sq"][1], expected["anova"]["df"][1]), rel=1e-9
    )
    tukey, alone = expected["tukey_kramer"], expected["unadjusted_pairs"]["p"]
    assert [f"{c.setup}-{c.against}" for c in found.comparisons] == tukey["contrast"]
    np.testing.assert_allclose([c.estimate for c in found.comparisons], tukey["estimate"], rtol=1e-9)
    np.testing.assert_allclose([c.simultaneous.low for c in found.comparisons], tukey["ci_low"], rtol=1e-4)
    np.testing.assert_allclose([c.simultaneous.high for c in found.comparisons], tukey["ci_high"], rtol=1e-4)
    np.testing.assert_allclose([c.p_value for c in found.comparisons], alone, rtol=1e-8)


def critical_at(p, correlation, df):
    """The critical value at which a single-step p value is exceeded."""
    return float(maxt.quantile(correlation, df, 1 - p))


def holds_p(case, correlation, df):
    """|t| lies between the critical values at p ± 1e-3: quasi-random integration on both sides, as the case allows."""
    for t, p in zip(case["t"], case.get("p_single_step", case.get("p")), strict=True):
        assert p < 2e-3 or abs(t) <= critical_at(p - 1e-3, correlation, df)
        assert p > 1 - 2e-3 or abs(t) >= critical_at(p + 1e-3, correlation, df)


def test_single_step_p_and_critical_value(reference):
    """2e-3 relative on the critical value, as the case says."""
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_all_pairs"]
    holds_p(case, pair_correlation(3), 27)
    assert maxt.quantile(pair_correlation(3), 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)


def test_comparisons_with_the_first_only(reference):
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_versus_first"]
    correlation = np.array([[1, 0.5], [0.5, 1]])
    assert maxt.quantile(correlation, 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)
    holds_p(case, correlation, 27)


def test_two_families_of_pairs_at_once(reference):
    """07b: three pairs within each of two wools, independent of each other."""
    case = reference("07b-simultaneous-warpbreaks")["expected"]["simple_effects_of_B_max_t_over_all"]
    correlation = np.kron(np.eye(2), [[1, 0.5, -0.5], [0.5, 1, 0.5], [-0.5, 0.5, 1]])
    half = maxt.quantile(correlation, 48, 0.95) * case["se"][0]
    np.testing.assert_allclose(half, (np.array(case["ci_high"]) - case["ci_low"]) / 2, rtol=2e-3)
    holds_p(case, correlation, 48)


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
