"""Boundaries of several looks, against published tables (Armitage, McPherson & Rowe 1969; Pocock 1977; O'Brien & Fleming 1979;
Lan & DeMets 1983: from memory) and the published output of general programs.
"""

import numpy as np
import pytest
from scipy import optimize

from evenhand.stats.spending import boundaries, boundary_of, crossed, level_of, nominal_levels, obrien_fleming, pocock


def even(looks):
    return tuple((k + 1) / looks for k in range(looks))


# Armitage, McPherson & Rowe (1969), JRSS A 132, table 2: looks at a nominal 5 %, normal, known variance. Values from memory; the
# growth from 5 % is also told in the public manual of a general program for sequential designs (statug, SEQDESIGN, overview).
@pytest.mark.parametrize(
    ("looks", "error"), [(1, 0.05), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193), (20, 0.248)]
)
def test_repeated_tests_inflate_the_error(looks, error):
    assert crossed(even(looks), [boundary_of(0.05)] * looks)[-1] == pytest.approx(error, abs=6e-4)


# Pocock (1977), Biometrika 64, 191–199, table 1 (two-sided 5 %), and its nominal levels. Values from memory.
@pytest.mark.parametrize(
    ("looks", "constant", "level"), [(2, 2.178, 0.0294), (3, 2.289, 0.0221), (4, 2.361, 0.0182), (5, 2.413, 0.0158)]
)
def test_constant_boundary(looks, constant, level):
    found = optimize.brentq(lambda b: crossed(even(looks), [b] * looks)[-1] - 0.05, 1.0, 5.0)
    assert found == pytest.approx(constant, abs=6e-4)
    assert level_of(found) == pytest.approx(level, abs=6e-5)


# O'Brien & Fleming (1979), Biometrics 35, 549–556; Jennison & Turnbull (2000), table 2.3. Values from memory.
@pytest.mark.parametrize(("looks", "last"), [(2, 1.977), (3, 2.004), (4, 2.024), (5, 2.040)])
def test_falling_boundary(looks, last):
    falling = 1 / np.sqrt(even(looks))
    found = optimize.brentq(lambda b: crossed(even(looks), b * falling)[-1] - 0.05, 1.0, 5.0)
    assert found == pytest.approx(last, abs=6e-4)
    if looks == 2:
        assert found * falling[0] == pytest.approx(2.797, abs=6e-4)


# Lan & DeMets (1983), Biometrika 70, 659–663; Reboussin et al. (2000), Controlled Clinical Trials 21, 190–207 (their program's
# output for equal steps, two-sided 5 %). Values from memory.
def test_boundaries_that_spend_like_obrien_and_fleming():
    assert boundaries(even(2), obrien_fleming(even(2), 0.05)) == pytest.approx([2.963, 1.969], abs=6e-4)
    five = [4.877, 3.357, 2.680, 2.290, 2.031]
    assert boundaries(even(5), obrien_fleming(even(5), 0.05)) == pytest.approx(five, abs=6e-4)


# Public tutorial of the R package rpact, "Design specification" (bayer.presentation.2026.rpact.com): looks at 30, 60 and 100 %,
# one-sided 2.5 %, error spent "<0.0001, 0.0038, 0.0250". Two sides make twice that.
def test_error_spent_by_a_published_design():
    spent = obrien_fleming([0.3, 0.6, 1.0], 0.05)
    assert spent[0] < 2e-4
    assert spent[1:] == pytest.approx([2 * 0.0038, 0.05], abs=1e-4)


# Public vignette of the R package GroupSeq, "Compute bounds": three even looks, one-sided 5 %, 0.069 % spent at the first look
# with a bound of 3.2; the constant bound is 1.99, which spends 2.3 % at the first look and 1.1 % at the last.
def test_three_looks_of_a_published_example():
    spent = obrien_fleming(even(3), 0.10)
    assert spent[0] / 2 == pytest.approx(0.00069, abs=5e-6)
    assert boundaries(even(3), spent)[0] == pytest.approx(3.2, abs=5e-3)
    by_look = np.diff(crossed(even(3), [1.992] * 3), prepend=0) / 2
    assert by_look[[0, 2]] == pytest.approx([0.023, 0.011], abs=6e-4)


def test_spending_like_pocock_is_nearly_even_and_adds_up():
    """Definition (Lan & DeMets 1983): nothing at the start, all of it at the end, and the levels of one look are the error."""
    assert pocock([1e-12, 1.0], 0.05) == pytest.approx([0.0, 0.05], abs=1e-9)
    levels = nominal_levels(pocock, (0.25, 0.5, 0.75, 1.0), 0.05)
    assert max(levels) / min(levels) < 1.1
    assert crossed((0.25, 0.5, 0.75, 1.0), boundary_of(levels))[-1] == pytest.approx(0.05, abs=1e-6)
    assert nominal_levels(obrien_fleming, (1.0,), 0.05) == pytest.approx((0.05,))
