"""Automatic block length and the stationary bootstrap against values from outside.

Politis & White (2004), Econometric Reviews 23, 53-70, corrected by Patton, Politis & White (2009), ibid. 28, 372-375: case 10a,
computed with the library `arch` 8.0.0 and by an independent implementation; `arch` itself on other series; the variance of the
mean of an AR(1) process (case 10b, e.g. Priestley 1981, section 5.3).
"""

from __future__ import annotations

import numpy as np
import pytest
from arch.bootstrap import StationaryBootstrap, optimal_block_length

from evenhand.frames.model import Frames
from evenhand.measures.uncertainty import run_interval
from evenhand.stats.bootstrap import block_length, resample_weights


def ar1(phi, n, seed):
    e = np.random.default_rng(seed).standard_normal(n + 200)
    x = np.empty_like(e)
    x[0] = e[0]
    for t in range(1, e.size):
        x[t] = phi * x[t - 1] + e[t]
    return x[200:]


def test_the_stored_series_give_the_stored_lengths(reference):
    case = reference("10a-block-length-ar1")
    for series in case["inputs"]["series"]:
        expected = case["expected"][series["name"]]
        found = block_length(series["x"])
        assert found == pytest.approx(expected["stationary"], rel=1e-6)
        assert 0.5 < found / expected["theoretical_optimum"]["stationary"] < 2


@pytest.mark.parametrize("phi", [-0.4, 0.0, 0.3, 0.7, 0.95, 0.99])
@pytest.mark.parametrize("n", [50, 400, 3000])
def test_the_library_arch_gives_the_same(phi, n):
    x = ar1(phi, n, seed=int(1000 * abs(phi)) + n)
    theirs = float(optimal_block_length(x)["stationary"].iloc[0])
    # Ours never falls under one point: a shorter block has no meaning.
    assert block_length(x) == pytest.approx(max(1.0, theirs), rel=1e-9)


def bootstrap_variance(x, block, seed, resamples=1500):
    rng = np.random.default_rng(seed)
    return np.var([resample_weights(rng, x.size, block) @ x / x.size for _ in range(resamples)])


@pytest.mark.parametrize("phi", [0.0, 0.3, 0.5, 0.8, -0.4])
def test_the_bootstrap_finds_the_variance_of_a_mean(reference, phi):
    """Mean over 40 series of 500 points against the closed form, less the bias of the method: to first order the variance of
    the mean comes out too small by G / (n b), where G is the sum of |k| times the covariance at lag k and b the block length
    (Politis & White 2004, section 2). Correlation of 0.8 leaves terms of higher order that matter, hence the wider bracket.
    """
    row = next(r for r in reference("10b-variance-of-ar1-mean")["expected"]["cases"] if (r["phi"], r["n"]) == (phi, 500))
    found, blocks = [], []
    for seed in range(40):
        x = ar1(phi, 500, seed + 100)
        blocks.append(block_length(x))
        found.append(bootstrap_variance(x, blocks[-1], seed, 200))
    g = 2 * row["process_variance"] * phi / (1 - phi) ** 2
    expected = row["variance_of_mean"] - g * np.mean(1 / np.array(blocks)) / 500
    assert np.mean(found) / expected == pytest.approx(1, abs=0.15 if phi > 0.6 else 0.1)


def test_resamples_spread_as_those_of_the_library():
    x = ar1(0.6, 400, seed=3)
    theirs = StationaryBootstrap(10, x, seed=np.random.default_rng(5)).var(np.mean, reps=4000)
    assert bootstrap_variance(x, 10.0, 6, 4000) == pytest.approx(float(np.asarray(theirs).squeeze()), rel=0.1)


def test_the_interval_of_a_run_is_as_wide_as_its_mean_is_uncertain(reference):
    """Average frame rate of AR(1) frame times: the half width is 1.96 standard errors of the mean by the closed form."""
    case = next(r for r in reference("10b-variance-of-ar1-mean")["expected"]["cases"] if (r["phi"], r["n"]) == (0.5, 500))
    widths = []
    for seed in range(15):
        ms = 10 + 0.2 * ar1(0.5, 500, seed)
        low, high, _ = run_interval(Frames(np.rint(ms * 1e6).astype(np.int64)), "average", resamples=300, seed=seed)
        widths.append((high - low) / 2)
    expected = 1.96 * 0.2 * np.sqrt(case["variance_of_mean"]) / 10 * 100  # relative error of the mean, at 100 frames per second
    assert 0.75 < np.mean(widths) / expected < 1.2
