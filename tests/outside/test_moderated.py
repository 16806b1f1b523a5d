"""Moderated variances: Smyth (2004), Stat. Appl. Genet. Mol. Biol. 3(1), article 3; Phipson et al. (2016), Ann. Appl. Stat. 10,
946–963. Values of the authors' own implementation for R (cases 04a to 04d name its version).
"""

import numpy as np
import pytest
from scipy import special

from evenhand.stats.moderated import trigamma_inverse
from evenhand.stats.moderated_robust import moderate_robustly

#: Nothing Winsorised: the plain form of 2004.
PLAIN = (0.0, 0.0)


@pytest.mark.parametrize("name", ["04a-squeeze-variances-equal-df", "04b-squeeze-variances-unequal-df"])
def test_prior_and_posterior(reference, name):
    case = reference(name)
    found = moderate_robustly(case["inputs"]["var"], case["inputs"]["df"], PLAIN)
    expected = case["expected"]
    assert found.prior_variance == pytest.approx(expected["var_prior"], rel=1e-8)
    np.testing.assert_allclose(found.prior_df, expected["df_prior"], rtol=1e-8)
    np.testing.assert_allclose(found.posterior, expected["var_post"], rtol=1e-8)


def test_moderated_t_of_two_groups(reference):
    case = reference("04c-moderated-t")
    y, expected = np.array(case["inputs"]["y"]), case["expected"]
    first, second = y[:, :3], y[:, 3:]
    variances = (first.var(axis=1, ddof=1) + second.var(axis=1, ddof=1)) / 2
    np.testing.assert_allclose(variances, expected["residual_variance"], rtol=1e-8)
    found, moderated = moderate_robustly(variances, 4, PLAIN), expected["moderated"]
    assert found.prior_df[0] == pytest.approx(moderated["df_prior"], rel=1e-8)
    np.testing.assert_allclose(found.posterior, moderated["var_post"], rtol=1e-8)


def test_robust_prior(reference):
    """The two outlying units keep variances near their own; 1e-8 where the case itself asks for 1e-5."""
    case = reference("04d-squeeze-variances-robust")
    found = moderate_robustly(case["inputs"]["var"], case["inputs"]["df"], tuple(case["inputs"]["winsor_tail_p"]))
    expected = case["expected"]
    assert found.prior_variance == pytest.approx(expected["var_prior"], rel=1e-8)
    np.testing.assert_allclose(found.prior_df, expected["df_prior_shrunk"], rtol=1e-8)
    np.testing.assert_allclose(found.posterior, expected["var_post"], rtol=1e-8)


def test_many_problems_at_once_are_the_single_ones():
    variances = np.random.default_rng(5).chisquare(4, (7, 15)) * np.exp(np.random.default_rng(6).normal(0, 1, (7, 15)))
    df = np.array([4.0] * 10 + [3.0] * 5)
    for tails in (PLAIN, (0.05, 0.1)):
        together = moderate_robustly(variances, df, tails)
        for row, posterior in zip(variances, together.posterior, strict=True):
            np.testing.assert_allclose(moderate_robustly(row, df, tails).posterior, posterior, rtol=1e-12)


def test_variances_no_more_unlike_than_chance_are_taken_as_one():
    found = moderate_robustly([1.0, 1.1, 0.9, 1.05], 4)
    assert np.isinf(found.prior_df).all()
    np.testing.assert_allclose(found.posterior, 1.0125)


def test_variances_of_zero_do_no_harm():
    assert np.isfinite(moderate_robustly([0.0, 1.0, 2.0, 0.5], 3).posterior).all()
    np.testing.assert_allclose(moderate_robustly([0.0, 0.0, 0.0], 3).posterior, 0.0)


def test_one_unit_has_no_prior():
    with pytest.raises(ValueError, match="at least two units"):
        moderate_robustly([1.0], 4)


def test_trigamma_inverse_inverts():
    y = np.geomspace(1e-3, 1e4, 50)
    np.testing.assert_allclose(trigamma_inverse(special.polygamma(1, y)), y, rtol=1e-8)
