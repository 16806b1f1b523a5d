"""Degrees of freedom of a sum of two variances: coverage by quadrature, independent of simulation (the Behrens–Fisher problem).

With s² = a χ²_f/f + b χ²_g/g, the share of the first is a function of a beta variable and the sum a multiple of χ²_{f+g} that is
independent of it: one integral gives the coverage of ±t(df(w)) s for any true shares.
"""

import numpy as np
import pytest
from scipy import special

from evenhand.judging.noise import combined_df

NODES, WEIGHTS = np.polynomial.legendre.leggauss(200)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2


def coverage(f, g, share, confidence):
    beta = special.betaincinv(f / 2, g / 2, NODES)
    first, second = share * beta / f, (1 - share) * (1 - beta) / g
    w = first / (first + second)
    critical = special.stdtrit(combined_df((w, 1 - w), (f, g)), (1 + confidence) / 2)
    inside = 2 * special.stdtr(f + g, critical * np.sqrt((f + g) * (first + second))) - 1
    return float(inside @ WEIGHTS)


@pytest.mark.parametrize(
    ("f", "least", "most"), [(1, 0.925, 0.988), (2, 0.942, 0.972), (3, 0.946, 0.963), (6, 0.949, 0.954), (12, 0.9495, 0.951)]
)
def test_an_interval_covers_wherever_the_true_share_lies(f, least, most):
    for g in (f, 3 * f, 7 * f, 19 * f):
        found = [coverage(f, g, share, 0.95) for share in np.linspace(0, 1, 41)]
        assert least < min(found) and max(found) < most


def test_either_part_alone_has_students_t():
    for f, g in ((2.0, 6.0), (4.0, 28.0), (9.0, 27.0)):
        assert coverage(f, g, 1.0, 0.95) == pytest.approx(0.95, abs=1e-4)
        assert coverage(f, g, 0.0, 0.95) == pytest.approx(0.95, abs=1e-4)
    assert combined_df((np.array(1.0), np.array(0.0)), (4.0, 12.0)) == pytest.approx(4.0)
    assert combined_df((np.array(0.25), np.array(0.75)), (4.0, 12.0)) <= 16.0


def test_satterthwaites_own_would_cover_too_little():
    """Two degrees of freedom for the visits, most of the variance theirs."""
    f, g, share = 2, 38, 0.9
    beta = special.betaincinv(f / 2, g / 2, NODES)
    first, second = share * beta / f, (1 - share) * (1 - beta) / g
    w = first / (first + second)
    critical = special.stdtrit(1 / (w**2 / f + (1 - w) ** 2 / g), 0.975)
    inside = 2 * special.stdtr(f + g, critical * np.sqrt((f + g) * (first + second))) - 1
    assert float(inside @ WEIGHTS) < 0.925 < 0.942 < coverage(f, g, share, 0.95)
