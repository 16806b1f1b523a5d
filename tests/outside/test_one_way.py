"""One-way layouts as the program judges them: certified values of NIST's StRD (case 02c). Groups serve as setups of one title,
their values as visits.
"""

from itertools import combinations

import pytest
from judged import judged

from evenhand.measures.model import Scale


@pytest.mark.parametrize("name", ["SiRstv", "SmLs01", "SmLs04", "SmLs07"])
def test_certified_analysis_of_variance(reference, name):
    """Within: the noise between visits. Between: from all pairs' differences, Σ nᵢ nⱼ (ȳᵢ − ȳⱼ)² / N."""
    case = reference("02c-nist-anova")
    (data,) = (d for d in case["inputs"]["datasets"] if d["dataset"] == name)
    expected = case["expected"][name]
    found = judged({("title", str(g["treatment"])): g["values"] for g in data["groups"]}, Scale.DIFFERENCE)
    counts = {cell.setup: cell.visits for cell in found.cells}
    assert (len(counts) - 1, found.noise.shift_df) == pytest.approx((expected["df_between"], expected["df_within"]))
    assert len(found.comparisons) == len(list(combinations(counts, 2)))
    between = sum(counts[c.setup] * counts[c.against] * c.estimate**2 for c in found.comparisons) / sum(counts.values())
    within = found.noise.shift**2
    got = {
        "between_sum_sq": between,
        "within_sum_sq": within * found.noise.shift_df,
        "F": between / expected["df_between"] / within,
        "r_squared": between / (between + within * found.noise.shift_df),
        "residual_sd": found.noise.shift,
    }
    for key, value in got.items():
        assert value == pytest.approx(expected[key]["certified"], rel=expected[key]["tolerance"]), key
