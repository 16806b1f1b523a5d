"""Benjamini & Hochberg (1995): adjusted p values as R's p.adjust computes them (case 07c)."""

import numpy as np
import pytest

from evenhand.stats.multiplicity import benjamini_hochberg


def test_adjusted_p_values_in_any_order(reference):
    case = reference("07c-p-adjust")
    p, expected = np.array(case["inputs"]["p"]), np.array(case["expected"]["BH"])
    for seed in range(3):
        order = np.random.default_rng(seed).permutation(p.size)
        np.testing.assert_allclose(benjamini_hochberg(p[order]), expected[order], rtol=1e-12)


def test_the_article_rejects_four(reference):
    """Section 3.2: four of the fifteen by the false-discovery rate at 0.05."""
    assert np.sum(benjamini_hochberg(reference("07c-p-adjust")["inputs"]["p"]) <= 0.05) == 4


def test_nothing_to_adjust_and_nonsense():
    assert benjamini_hochberg([]).shape == (0,)
    assert benjamini_hochberg([0.02]) == pytest.approx([0.02])
    for bad in ([0.5, np.nan], [-0.1], [1.1], [[0.1]]):
        with pytest.raises(ValueError, match="between 0 and 1"):
            benjamini_hochberg(bad)
