"""Random-effects meta-analysis against R's metafor 3.8-1: BCG vaccine trials (Colditz et al. 1994; case 03a) and a made-up
set whose between-unit variance is truncated at zero (case 03b).
"""

import numpy as np
import pytest
from scipy import stats

from evenhand.stats.meta import random_effects, tau2_interval

CASES = ["03a-meta-bcg", "03b-meta-zero-tau2"]


def given(case):
    return case["inputs"]["yi"], case["inputs"]["vi"]


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("method", ["DL", "REML", "PM", "ML"])
def test_mean_and_spread(reference, name, method):
    case = reference(name)
    expected = case["expected"][method]
    found = random_effects(*given(case), method=method)
    # Iterative there: metafor stops at a step of 1e-5.
    assert found.tau2 == pytest.approx(expected["tau2"], rel=1e-5, abs=1e-8)
    assert found.estimate == pytest.approx(expected["estimate"], rel=1e-6)
    assert found.se == pytest.approx(expected["se"], rel=2e-6)
    assert 100 * found.i2 == pytest.approx(expected["I2_percent"], rel=1e-6, abs=1e-8)
    assert (found.Q, found.df, found.p) == pytest.approx([case["expected"][k] for k in ("Q", "Q_df", "Q_p")], rel=1e-6)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("method", ["DL", "REML"])
def test_hartung_knapp_and_prediction(reference, name, method):
    case = reference(name)
    found = random_effects(*given(case), method=method)
    hk = case["expected"][f"hartung_knapp_{method}"]
    assert (found.hk_se, *found.hk) == pytest.approx((hk["se"], hk["ci_low"], hk["ci_high"]), rel=2e-6)
    ahead = case["expected"][f"prediction_interval_t_k_minus_2_{method}"]
    assert found.prediction == pytest.approx((ahead["pi_low"], ahead["pi_high"]), rel=2e-6)


@pytest.mark.parametrize("name", CASES)
def test_shrunken_units_and_profile(reference, name):
    case = reference(name)
    found = random_effects(*given(case))
    blup = case["expected"]["blup_REML"]
    np.testing.assert_allclose(found.shrunken, blup["pred"], rtol=1e-5)
    np.testing.assert_allclose(found.shrunken_se, blup["se"], rtol=1e-5)
    profile = case["expected"]["REML_tau2_ci_Q_profile"]
    assert tau2_interval(*given(case)) == pytest.approx((profile["low"], profile["high"]), rel=1e-5)


def test_figures_remembered_from_print(reference):
    """Status in the case: from memory, not verified."""
    case = reference("03a-meta-bcg")
    found = random_effects(*given(case))
    printed = {p["path"]: (p["value"], p["tolerance"]) for p in case["published"]}
    for path, value in {"REML/estimate": found.estimate, "REML/se": found.se, "REML/tau2": found.tau2, "Q": found.Q}.items():
        expected, tolerance = printed[path]
        assert value == pytest.approx(expected, abs=tolerance * 1.001)


def test_two_units_know_nothing_of_a_third():
    found = random_effects([0.0, 0.1], [0.01, 0.01])
    assert found.prediction == (-np.inf, np.inf)
    assert found.hk_se * stats.t.ppf(0.975, 1) == pytest.approx(found.hk[1] - found.estimate)


def test_likelihood_at_its_top_for_any_scale():
    """The estimate scales with the data and beats its neighbours; DL and PM agree with their moment equations."""
    rng = np.random.default_rng(5)
    for scale in (1e-4, 1.0, 1e4):
        for _ in range(20):
            v = rng.uniform(0.2, 5, 8)
            y = rng.normal(0, np.sqrt(v + rng.choice([0.0, 1.0, 20.0])))
            ones = [random_effects(y, v, m).tau2 for m in ("DL", "REML", "PM", "ML")]
            scaled = [random_effects(y * scale, v * scale**2, m).tau2 for m in ("DL", "REML", "PM", "ML")]
            np.testing.assert_allclose(scaled, np.array(ones) * scale**2, rtol=1e-6, atol=1e-12 * scale**2)


@pytest.mark.parametrize(
    ("y", "v"),
    [([1.0], [1.0]), ([1, 2], [1]), ([1, np.nan], [1, 1]), ([1, 2], [0, 1]), ([1, 2], [1, np.inf]), ([[1, 2]], [[1, 1]])],
)
def test_nonsense_is_refused(y, v):
    with pytest.raises(ValueError, match=r"two rows|finite"):
        random_effects(y, v)
