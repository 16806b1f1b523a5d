"""Two one-sided tests. 08a: Wellek (2003), p. 212, as published with the 90 % interval; 08b: contrasts of a linear model in R."""

import numpy as np
import pytest
from scipy import stats

from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE, decide
from evenhand.judging.model import Interval, Verdict
from evenhand.measures.model import Better


def test_published_interval_and_decision_of_a_paired_ratio(reference):
    """Ratio 0.9412, 90 % interval 0.8634 to 1.0260: level within 0.8 to 1.25, not within 0.9 to 1.11."""
    case = reference("08a-tost-paired-ratio")
    difference = np.log(case["inputs"]["x"]) - np.log(case["inputs"]["y"])
    estimate, se = difference.mean(), difference.std(ddof=1) / np.sqrt(difference.size)
    half = float(t_quantile(difference.size - 1, INNER_CONFIDENCE)) * se
    low, high = np.exp([estimate - half, estimate + half])
    assert (low, high) == pytest.approx((0.8634, 1.0260), abs=5e-5)
    inner = Interval(estimate - half, estimate + half, INNER_CONFIDENCE)
    wide = Interval(estimate - 2 * half, estimate + 2 * half, 0.95)
    for name, ratio in (("log_paired", 1.25), ("narrow_limits", 1.1111111111111112)):
        level = decide(wide, inner, np.log(ratio), Better.HIGHER) is Verdict.LEVEL
        assert level == case["expected"][name]["equivalent"]


def test_level_is_both_one_sided_p_below_five_per_cent(reference):
    """08b, and the same contrasts at other margins: inside the 90 % interval exactly where p is below 0.05."""
    expected = reference("08b-tost-linear-model")["expected"]["equivalence"]
    for estimate, se, df, p in zip(expected["estimate"], expected["se"], expected["df"], expected["p"], strict=True):
        half = float(t_quantile(df, INNER_CONFIDENCE)) * se
        inner = Interval(estimate - half, estimate + half, INNER_CONFIDENCE)
        wide = Interval(estimate - 3 * half, estimate + 3 * half, 0.95)
        for delta in (0.4, 0.8, 0.95, 1.0, 1.3):
            lower_tail = stats.t.cdf((abs(estimate) - delta) / se, df)
            if delta == 1.0:
                assert lower_tail == pytest.approx(p, rel=1e-8)
            assert (decide(wide, inner, delta, Better.HIGHER) is Verdict.LEVEL) == (lower_tail < 0.05)
