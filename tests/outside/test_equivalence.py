"""Two one-sided tests. 08a: Wellek (2003), p. 212, as published with the 90 % interval; 08b: contrasts of a linear model in R;
its weights by the library statsmodels too.
"""

from itertools import combinations

import numpy as np
import pytest
from judged import KEY, judged
from scipy import stats
from statsmodels.stats import weightstats

from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE, decide
from evenhand.judging.model import Interval, Verdict
from evenhand.measures.model import Better, Scale


@pytest.mark.parametrize(("limits", "ratio"), [("log_paired", 1.25), ("narrow_limits", 1.1111111111111112)])
def test_published_interval_and_decision_of_a_paired_ratio(reference, limits, ratio):
    """Through `judge`: patients are rounds of two setups. Ratio 0.9412, 90 % interval 0.8634 to 1.0260: level within 0.8 to 1.25,
    not within 0.9 to 1.11.
    """
    case = reference("08a-tost-paired-ratio")
    expected = case["expected"][limits]
    cells = {("drug", name): case["inputs"][name] for name in ("y", "x")}
    [found] = judged(cells, Scale.LOG, rounds=True, margins={KEY: ratio - 1}).comparisons
    assert np.exp([found.inner.low, found.inner.high]) == pytest.approx((0.8634, 1.0260), abs=5e-5)
    assert np.exp([found.inner.low, found.inner.high]) == pytest.approx(expected["ci_1_minus_2alpha"], rel=1e-6)
    assert np.exp([found.pointwise.low, found.pointwise.high]) == pytest.approx(expected["ci_95"], rel=1e-6)
    assert (np.exp(found.estimate), found.se, found.df) == pytest.approx(
        (expected["estimate"], expected["se"], expected["df"]), rel=1e-9
    )
    assert found.p_value == pytest.approx(expected["p_difference"], rel=1e-6)
    assert (found.verdict is Verdict.LEVEL) == expected["equivalent"]


def plants(reference):
    """Weights by group: setups of one title, plants their visits."""
    inputs = reference("08b-tost-linear-model")["inputs"]
    return {("plants", g): [y for y, h in zip(inputs["y"], inputs["group"], strict=True) if g == h] for g in inputs["levels"]}


def test_level_of_three_groups_through_the_judgement(reference):
    """08b, margin 1: level exactly where the two one-sided tests give p below 0.05."""
    expected = reference("08b-tost-linear-model")["expected"]["equivalence"]
    p = {frozenset(c.split(" - ")): p for c, p in zip(expected["contrast"], expected["p"], strict=True)}
    found = judged(plants(reference), Scale.DIFFERENCE, margins={KEY: 1.0}).comparisons
    assert {frozenset((c.setup, c.against)) for c in found} == set(p)
    for c in found:
        assert c.df == pytest.approx(27)
        assert (c.verdict is Verdict.LEVEL) == (p[frozenset((c.setup, c.against))] < 0.05)


@pytest.mark.parametrize("margin", [0.3, 0.6, 0.85, 0.9, 1.2, 1.5])
def test_level_of_two_groups_is_the_librarys_decision(reference, margin):
    """`ttost_ind` of statsmodels (Student's, variances pooled) on the same weights, two groups at a time."""
    groups = plants(reference)
    for one, other in combinations(groups, 2):
        p, _, _ = weightstats.ttost_ind(np.array(groups[one]), np.array(groups[other]), -margin, margin, usevar="pooled")
        [found] = judged({one: groups[one], other: groups[other]}, Scale.DIFFERENCE, margins={KEY: margin}).comparisons
        assert (found.verdict is Verdict.LEVEL) == (p < 0.05), (one, other, p)


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
