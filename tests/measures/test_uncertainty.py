"""The fast way of resampling (weights) gives what the plain way (indices, then the measure itself) gives."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.model import Frames
from evenhand.measures.catalogue import FRAMED
from evenhand.measures.compute import measure_run
from evenhand.measures.uncertainty import _prepare, run_interval
from evenhand.stats.bootstrap import resample_weights

SAMPLED = [key for key in FRAMED if key not in {"pace_change", "hitches", "hitch_time"}]  # depend on the order of frames


def drifting(n: int = 3000, seed: int = 4) -> Frames:
    """Frame times about 8 ms that wander slowly, with a heavy tail."""
    rng = np.random.default_rng(seed)
    walk = np.zeros(n)
    for i, step in enumerate(rng.standard_normal(n - 1), start=1):
        walk[i] = 0.9 * walk[i - 1] + 0.03 * step
    ms = 8 * np.exp(walk + 0.02 * rng.standard_t(4, n))
    return Frames(np.rint(ms * 1e6).astype(np.int64))


@pytest.mark.parametrize("key", SAMPLED)
def test_weights_give_the_measure_of_the_drawn_frames(key: str) -> None:
    frames = drifting(400)
    rng = np.random.default_rng(9)
    statistic = _prepare(frames, key, 125.0).statistic
    for _ in range(20):
        weights = resample_weights(rng, len(frames), 12.0)
        drawn = Frames(np.repeat(frames.ns, weights))
        assert statistic(weights) == pytest.approx(measure_run(drawn, 125.0).values[key], rel=1e-12)


@pytest.mark.parametrize("key", FRAMED)
def test_every_frame_once_gives_the_measure_itself(key: str) -> None:
    frames = drifting()
    ones = np.ones(len(frames), dtype=np.int64)
    # Pace change of a resample counts the first frame with the mean change, so that all frames once give the run's value.
    assert _prepare(frames, key, 125.0).statistic(ones) == pytest.approx(measure_run(frames, 125.0).values[key], rel=1e-12)


def test_the_interval_holds_the_value_and_repeats() -> None:
    frames = drifting()
    for key in ("average", "low1_percentile", "low1_tail_mean", "low1_time_share", "pace_change"):
        low, high, block = run_interval(frames, key, resamples=300)
        assert low < measure_run(frames).values[key] < high
        assert block >= 1
        assert (low, high, block) == run_interval(frames, key, resamples=300)


def test_wandering_frames_need_longer_blocks_and_wider_intervals() -> None:
    frames = drifting()
    shuffled = Frames(np.random.default_rng(5).permutation(frames.ns))
    low, high, block = run_interval(frames, "average", resamples=300)
    low_s, high_s, block_s = run_interval(shuffled, "average", resamples=300)
    assert block > 3 * block_s
    assert high - low > 1.5 * (high_s - low_s)


def test_a_run_without_variation_has_an_interval_without_width() -> None:
    frames = Frames(np.full(500, 16_666_667, dtype=np.int64))
    low, high, block = run_interval(frames, "average", resamples=50)
    assert low == pytest.approx(high, rel=1e-12)
    assert block == 1


def test_what_never_or_always_happens_has_no_interval() -> None:
    frames = drifting()
    assert all(np.isnan(v) for v in run_interval(frames, "below_target", resamples=20, target_rate=1.0))
    assert all(np.isnan(v) for v in run_interval(frames, "below_target", resamples=20, target_rate=1e6))
    low, high, _ = run_interval(frames, "below_target", resamples=200, target_rate=125.0)
    assert 0 < low < high < 100


def test_too_few_frames_have_no_interval_and_unknown_keys_are_errors() -> None:
    assert all(np.isnan(v) for v in run_interval(Frames(np.full(39, 10_000_000, dtype=np.int64)), "average"))
    with pytest.raises(KeyError):
        run_interval(drifting(), "smoothness")
