"""Counts of titles beyond the margin, and the share of titles like these that they bear."""

from __future__ import annotations

import numpy as np
import pytest
from invented_runs import RATE, WAIT, design, study
from scipy import stats

from evenhand.judging.analysis import analyse
from evenhand.judging.counts import share_between, title_counts
from evenhand.judging.judge import judge
from evenhand.judging.model import Verdict
from evenhand.judging.pairs import comparisons
from evenhand.judging.visits import Visits


def test_every_setup_against_the_baseline_is_counted():
    judged = judge(study(titles=8, effects=(0.0, 0.0, 0.2, -0.2)), design()).measures["rate"]
    counts = {c.setup: c for c in judged.counts}
    assert set(counts) == set("BCD") and all(c.against == "A" and c.titles == 8 for c in counts.values())
    assert (counts["C"].ahead, counts["C"].behind, counts["D"].ahead, counts["D"].behind) == (8, 0, 0, 8)
    assert counts["D"].behind_share.low == pytest.approx(0.025 ** (1 / 8)), "all of 8: the exact interval by its definition"
    assert counts["D"].behind_share.high == 1.0
    assert counts["C"].behind_share.low == 0.0
    assert counts["D"].quantiles == tuple(sorted(counts["D"].quantiles))


def test_where_less_is_better_more_is_behind():
    judged = judge(study(titles=5, effects=(0.0, 0.2), measure="wait"), design("AB", WAIT)).measures["wait"]
    (counts,) = judged.counts
    assert (counts.behind, counts.ahead) == (5, 0)
    assert counts.quantiles[0] > 0.1, "the sign of the quantiles is that of the value"


def test_what_may_be_beyond_widens_the_share():
    judged = judge(study(titles=6, effects=(0.0, -0.03), noise=0.05, runs=1), design("AB")).measures["rate"]
    (counts,) = judged.counts
    unsettled = [c for c in judged.comparisons if c.verdict is not Verdict.LEVEL and c.simultaneous.low < -c.margin]
    assert counts.behind + counts.may_be_behind == len(unsettled) > counts.behind
    assert counts.behind_share.high == pytest.approx(stats.binomtest(len(unsettled), 6).proportion_ci(method="exact").high)


def test_one_title_and_one_visit_are_not_counted():
    assert judge(study(titles=1), design()).measures["rate"].counts == ()
    assert judge(study(visits=1), design()).measures["rate"].counts == ()


def test_share_between_holds_the_intervals_of_both_counts():
    low, high = (stats.binomtest(k, 20).proportion_ci(method="exact") for k in (3, 7))
    found = share_between(3, 7, 20, 0.95)
    assert (found.low, found.high) == pytest.approx((low.low, high.high))


def test_the_share_covers_the_truth():
    """Three titles in ten are truly behind by 8 %; 200 studies of 12 titles, the share is in the interval in at least 95 %."""
    rng = np.random.default_rng(5)
    plan = design("AB", rounds=False)
    hits = 0
    for _ in range(200):
        effect = np.where(rng.random(12) < 0.3, -0.08, 0.0)
        means = rng.normal(0, 0.01, (12, 2, 3)) + rng.normal(0, 0.005, (1, 2, 3))
        means[:, 1] += effect[:, None]
        titles = tuple(f"title {t}" for t in range(12))
        analysis = analyse(Visits(RATE, titles, means, np.ones(means.shape, dtype=np.intp), None, 0.0, ()), plan, False)
        (counts,) = title_counts(comparisons(analysis), RATE, plan)
        hits += counts.behind_share.low <= 0.3 <= counts.behind_share.high
    assert hits >= 190, hits
