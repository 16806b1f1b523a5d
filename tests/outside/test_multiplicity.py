"""Holm (1979), Benjamini & Hochberg (1995): adjusted p values as R's p.adjust computes them (case 07c)."""

import numpy as np
import pytest

from evenhand.stats import multiplicity

NAMES = {
    "bonferroni": multiplicity.bonferroni,
    "holm": multiplicity.holm,
    "hochberg": multiplicity.hochberg,
    "BH": multiplicity.benjamini_hochberg,
    "BY": multiplicity.benjamini_yekutieli,
}


@pytest.mark.parametrize("name", NAMES)
def test_adjusted_p_values_in_any_order(reference, name):
    case = reference("07c-p-adjust")
    p, expected = np.array(case["inputs"]["p"]), np.array(case["expected"][name])
    for seed in range(3):
        order = np.random.default_rng(seed).permutation(p.size)
        np.testing.assert_allclose(NAMES[name](p[order]), expected[order], rtol=1e-12)


def test_the_article_rejects_four_and_three(reference):
    """Benjamini & Hochberg (1995), section 3.2: four by the false-discovery rate, three by Bonferroni, at 0.05."""
    p = reference("07c-p-adjust")["inputs"]["p"]
    assert np.sum(multiplicity.benjamini_hochberg(p) <= 0.05) == 4
    assert np.sum(multiplicity.bonferroni(p) <= 0.05) == 3


@pytest.mark.parametrize("adjust", NAMES.values())
def test_nothing_to_adjust_and_nonsense(adjust):
    assert adjust([]).shape == (0,)
    assert adjust([0.02]) == pytest.approx([0.02])
    for bad in ([0.5, np.nan], [-0.1], [1.1], [[0.1]]):
        with pytest.raises(ValueError, match="between 0 and 1"):
            adjust(bad)
