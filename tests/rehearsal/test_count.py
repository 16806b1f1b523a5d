"""Counting uses the numbers that `judge` gives; simulated studies are what their truth says."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenhand.judging.critical import t_quantile, title_quantiles
from evenhand.judging.judge import judge
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.measures.model import Better, Measure, Scale
from evenhand.rehearsal.count import Share, count, title_pairs
from evenhand.rehearsal.naive import pooled_runs
from evenhand.rehearsal.simulate import Truth, rows, simulate

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
BASE = Truth(5, 3, 3, 2, 0.02, 0.01, 0.005, effects=(0.0, 0.02, -0.03), effect_spread=0.02)
KINDS = {
    "complete": (BASE, False),
    "rounds": (replace(BASE, round_shift=0.05), True),
    "gaps": (replace(BASE, absent=((0, 1, 2), (3, 2, None))), False),
    "gaps and rounds": (replace(BASE, absent=((0, 1, 2), (3, 2, None))), True),
    "unlike visits": (replace(BASE, visits=(3, 2, 4)), False),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_arrays_that_are_counted_are_the_judgement(kind):
    truth, rounds = KINDS[kind]
    simulated = simulate(truth, np.random.default_rng(3), 4)
    layout = layout_of(simulated.present, rounds)
    means = layout.pick(simulated.values.mean(axis=-1))
    noise = visit_noise(layout, means)
    title, pair, weights = title_pairs(layout)
    contrasts = contrast_weights(layout, np.eye(truth.titles)[title], weights[pair])
    found = estimates(layout, noise, means, contrasts)
    half = t_quantile(found.df, 0.95) * found.se
    design = Design(("s1", "s2", "s3"), "s1", (RATE,), rounds=rounds)
    for study in range(4):
        judged = judge(rows(simulated, study, "rate"), design).measures["rate"].comparisons
        ours = {(c.title, c.setup, c.against): c for c in judged}
        simultaneous = title_quantiles(layout, one(noise, study), title, contrasts, found.df[study : study + 1], 0.95)[0]
        for k, (t, p) in enumerate(zip(title, pair, strict=True)):
            b, a = int(np.argmax(weights[p])), int(np.argmin(weights[p]))
            c = ours[f"t{t + 1}", f"s{b + 1}", f"s{a + 1}"]
            assert c.estimate == pytest.approx(found.estimate[study, k], abs=1e-12)
            assert (c.pointwise.high - c.pointwise.low) / 2 == pytest.approx(half[study, k], rel=1e-6)
            assert (c.simultaneous.high - c.simultaneous.low) / 2 == pytest.approx(simultaneous[k] * c.se, rel=1e-6)


def one(noise, study):
    """The noise of one of several studies."""
    names = ("total", "shift", "raw", "own", "own_df", "prior_df", "setups")
    return replace(noise, **{name: getattr(noise, name)[study : study + 1] for name in names})


def test_simulated_spreads_are_those_asked_for():
    truth = Truth(6, 3, 2, 4, run_noise=0.05, visit_shift=0.2, title_shift=0.1, round_shift=0.4, tails=8.0)
    values = simulate(truth, np.random.default_rng(1), 4000).values
    runs = values - values.mean(axis=-1, keepdims=True)
    assert np.sqrt((runs**2).sum(axis=-1).mean() / 3) == pytest.approx(0.05, rel=0.02)
    visit = values.mean(axis=-1)
    between_titles = (visit - visit.mean(axis=1, keepdims=True)).var(axis=1, ddof=0).mean() * 6 / 5
    assert np.sqrt(between_titles) == pytest.approx(np.sqrt(0.1**2 + 0.05**2 / 4), rel=0.02)
    assert np.sqrt((visit.mean(axis=1).var(axis=(0,))).mean()) == pytest.approx(np.sqrt(0.2**2 + 0.4**2 + 0.1**2 / 6), rel=0.03)


def test_the_same_seed_gives_the_same_counts_whatever_the_batch(monkeypatch):
    first = count(BASE, 300, 11)
    assert first == count(BASE, 300, 11)
    assert first != count(BASE, 300, 12)


def test_pooling_runs_is_the_ordinary_two_sample_test():
    """The method shown for contrast: scipy's interval for two setups at one title with all runs as replicates."""
    values = simulate(Truth(1, 2, 3, 2, 0.02, 0.0), np.random.default_rng(5), 3).values
    weights = np.array([[-1.0, 1.0]])
    found = pooled_runs(values, np.array([0]), weights, np.array([[1.0]]), weights, 0.95)
    for study in range(3):
        a, b = values[study, 0].reshape(2, -1)
        theirs = stats.ttest_ind(b, a).confidence_interval(0.95)
        assert found.title[study, 0] == pytest.approx((theirs.high - theirs.low) / 2)
        assert found.over[study, 0] == pytest.approx((theirs.high - theirs.low) / 2)


def test_monte_carlo_error_is_that_of_a_share():
    counts = count(Truth(1, 2, 3, 1, 0.02, 0.01), 1000, 2)
    p = counts.title.value
    assert counts.title == Share(pytest.approx(p), pytest.approx(np.sqrt(p * (1 - p) / 999), rel=1e-6))
