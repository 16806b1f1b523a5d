"""Clopper-Pearson intervals printed by Newcombe (1998), Stat. Med. 17, 857-872, table I (values from memory) and in the help
page of R's binom.test after Conover (1971) (682 of 925; from memory).
"""

import numpy as np
import pytest
from scipy import stats

from evenhand.stats.binomial import clopper_pearson


@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
        (682, 925, 0.7077, 0.7654),
    ],
)
def test_printed_intervals(hits, tries, low, high):
    assert clopper_pearson(hits, tries) == pytest.approx((low, high), abs=5.1e-5)


def test_covers_by_definition():
    """At the low end, as many hits or more have probability 2.5 %; at the high end, as few or fewer (the definition, 1934)."""
    low, high = clopper_pearson(3, 40)
    assert stats.binom.sf(2, 40, low) == pytest.approx(0.025)
    assert stats.binom.cdf(3, 40, high) == pytest.approx(0.025)
    coverage = [
        sum(stats.binom.pmf(k, 12, p) for k in range(13) if clopper_pearson(k, 12)[0] <= p <= clopper_pearson(k, 12)[1])
        for p in np.linspace(0.01, 0.99, 50)
    ]
    assert min(coverage) >= 0.95


def test_nothing_tried_and_nonsense():
    assert clopper_pearson(0, 0) == (0.0, 1.0)
    for hits, tries in ((-1, 5), (6, 5)):
        with pytest.raises(ValueError, match="between 0"):
            clopper_pearson(hits, tries)
