"""Titles left out, and titles drawn: leave-one-out of the BCG vaccine trials (Colditz et al. 1994; case 03a) by the pooled fixed
effect of statsmodels, the trial being the title and its weight the inverse of its variance; the spread of resampled means and of
samples without replacement by their closed forms (Efron & Tibshirani 1993; Cochran 1977).
"""

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from evenhand.judging.advice.answers import without
from evenhand.judging.advice.choosing import random_choices
from evenhand.judging.advice.dependence import resampled, title_dependence
from evenhand.judging.advice.subsets import field_of
from evenhand.judging.analysis import analyse
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Row
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better, Measure, Scale

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")


@pytest.fixture(scope="module")
def trials(reference):
    """Each trial as a title whose log ratio of B to A is its log risk ratio; three visits that differ by alternating noise."""
    inputs = reference("03a-meta-bcg")["inputs"]
    y, v = np.array(inputs["yi"]), np.array(inputs["vi"])
    names = [f"{i} {name}" for i, name in enumerate(inputs["trial"])]
    noise = np.array([0.01, -0.02, 0.01])
    rows = [
        Row(name, setup, visit + 1, 1, "rate", float(100 * np.exp(effect + (1 + i % 3) * noise[(visit + i) % 3])))
        for i, name in enumerate(names)
        for setup, effect in (("A", 0.0), ("B", y[i]))
        for visit in range(3)
    ]
    design = Design(("A", "B"), "A", (RATE,), weights=dict(zip(names, 1 / v, strict=True)))
    return y, v, names, rows, design


def left_out(y, v, i):
    return float(combine_effects(np.delete(y, i), np.delete(v, i)).summary_frame().loc["fixed effect", "eff"])


def test_leave_one_out_is_that_of_statsmodels(trials):
    y, v, names, rows, design = trials
    visits = visit_means(read_runs(rows, design), RATE, design)
    order = [names.index(t) for t in visits.titles]
    found = field_of(analyse(visits, design, False)).over(without(y.size, np.arange(y.size)[:, None]))[:, 0]
    expected = [left_out(y, v, i) for i in range(y.size)]
    np.testing.assert_allclose(found, np.array(expected)[order], rtol=1e-6)


def test_the_trial_that_moves_the_pooled_effect_most(trials):
    y, v, names, rows, design = trials
    pooled = float(combine_effects(y, v).summary_frame().loc["fixed effect", "eff"])
    moved = [abs(left_out(y, v, i) - pooled) for i in range(y.size)]
    found = title_dependence(rows, judge(rows, design), ("rate",)).over[0]
    assert found.estimate == pytest.approx(pooled, rel=1e-6)
    assert found.most == names[int(np.argmax(moved))]
    assert abs(found.without - found.estimate) == pytest.approx(max(moved), rel=1e-6)


def test_resampled_means_have_the_variance_of_the_bootstrap(reference):
    """Sum of squares / n^2, the plug-in variance of a mean."""
    y = np.array(reference("03a-meta-bcg")["inputs"]["yi"])
    means = resampled(y.size, 40_000, 1) @ y / y.size
    assert means.var() == pytest.approx(((y - y.mean()) ** 2).sum() / y.size**2, rel=0.03)


@pytest.mark.parametrize("keep", [2, 5, 9])
def test_random_choices_have_the_variance_of_samples_without_replacement(reference, keep):
    """S^2 / n (1 - n / N)."""
    y = np.array(reference("03a-meta-bcg")["inputs"]["yi"])
    drawn = random_choices(np.random.default_rng(2), 40_000, keep, np.ones(y.size, dtype=bool))
    assert (drawn @ y / keep).var() == pytest.approx(y.var(ddof=1) / keep * (1 - keep / y.size), rel=0.03)
