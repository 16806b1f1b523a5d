"""Comparison with the best: critical values as SciPy has them and as printed in Dunnett (1955), J. Am. Stat. Assoc. 50, 1096,
table 1a (from memory); the whole method, after Hsu (1981), Ann. Stat. 9, 1026-1034, put together from SciPy's one-sided Dunnett
intervals on the plant weights of case 07a, equal and unequal numbers. Hsu's own worked examples were not at hand.
"""

import numpy as np
import pytest
from scipy import stats

from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Row
from evenhand.measures.model import Better, Measure, Scale
from evenhand.stats import maxt


@pytest.mark.parametrize(
    ("others", "df", "printed"),
    [(1, 10, 1.81), (2, 10, 2.15), (3, 10, 2.34), (2, 20, 2.03), (3, 20, 2.19), (2, np.inf, 1.92), (3, np.inf, 2.06)],
)
def test_printed_one_sided_critical_values(others, df, printed):
    assert maxt.others_quantile(others, df, 0.95) == pytest.approx(printed, abs=0.0051)


@pytest.mark.parametrize("others", [1, 2, 3, 5])
@pytest.mark.parametrize("df", [2, 5, 17, 60])
def test_critical_value_has_its_probability_under_the_multivariate_t(others, df):
    correlation = np.full((others, others), 0.5) + 0.5 * np.eye(others)
    for critical in (maxt.others_quantile(others, df, 0.95), maxt.one_sided_quantile(correlation, df, 0.95)):
        at = np.full(others, float(critical))
        p = stats.multivariate_t(shape=correlation, df=df).cdf(at, random_state=1, maxpts=20_000)
        assert p == pytest.approx(0.95, abs=6e-4)


def plants(reference, drop):
    data = reference("07a-simultaneous-plant-growth")["inputs"]
    groups = {}
    for name, weight in zip(data["group"], data["y"], strict=True):
        groups.setdefault(name, []).append(weight)
    return {name: values[: len(values) - drop.get(name, 0)] for name, values in groups.items()}


@pytest.mark.parametrize("drop", [{}, {"trt1": 5, "ctrl": 2}], ids=["equal", "unequal"])
@pytest.mark.parametrize("better", Better)
def test_intervals_against_the_best_from_dunnetts(reference, drop, better):
    groups = plants(reference, drop)
    sign = 1 if better is Better.HIGHER else -1
    upper = {i: upper_bounds(groups, i, sign) for i in groups}
    may = {i for i in groups if min(upper[i].values()) > 0}
    measure = Measure("weight", "Weight", "", better, Scale.DIFFERENCE, 0.1, "", "")
    rows = [Row("t", s, v, 1, "weight", y) for s, values in groups.items() for v, y in enumerate(values, 1)]
    judged = judge(rows, Design(tuple(groups), "ctrl", (measure,), rounds=False)).measures["weight"]
    for found in judged.best:
        i = found.setup
        high = max(0.0, min(upper[i].values()))
        low = min([0.0, *(-upper[j][i] for j in may - {i})])
        expected = (low, high) if sign > 0 else (-high, -low)
        assert (found.interval.low, found.interval.high) == pytest.approx(expected, abs=3e-3)
        assert found.may_be_best == (i in may)
    assert {b.setup for b in judged.best} == set(groups)


def upper_bounds(groups, i, sign):
    """SciPy's simultaneous upper bounds of (i less j) x sign for every other j."""
    others = [j for j in groups if j != i]
    samples = [sign * np.array(groups[j]) for j in others]
    test = stats.dunnett(*samples, control=sign * np.array(groups[i]), alternative="greater", random_state=1)
    return dict(zip(others, -test.confidence_interval(0.95).low, strict=True))
