"""Measures of runs small enough to work out by hand, and the laws that hold for every run."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from evenhand.frames.model import Frames
from evenhand.measures.catalogue import CATALOGUE, FRAMED, low_key
from evenhand.measures.compute import measure_run, pool
from evenhand.measures.lows import tail_size
from evenhand.measures.model import Better, Scale


def frames(ms) -> Frames:
    return Frames(np.rint(np.asarray(ms, dtype=float) * 1e6).astype(np.int64))


def test_a_run_worked_out_by_hand():
    """197 frames of 10 ms, two of 30, one of 50: 2.08 s. 1 % of 200 frames is two; 1 % of the time is 20.8 ms, which the one
    slowest frame fills; the 99 % quantile (type 7) lies at place 197.01, 1 % of the way from 30 to 30 ms.
    """
    ms = np.full(200, 10.0)
    ms[[40, 90]] = 30
    ms[150] = 50
    found = measure_run(frames(ms), target_rate=60)
    assert found.seconds == pytest.approx(2.08)
    assert found.values["average"] == pytest.approx(200 / 2.08)
    assert found.values["low1_percentile"] == pytest.approx(1000 / 30)
    assert found.values["low1_tail_mean"] == pytest.approx(1000 / 40)
    assert found.values["low1_time_share"] == pytest.approx(1000 / 50)
    assert found.values["low01_tail_mean"] == pytest.approx(1000 / 50)
    # successive changes: 20 up and down twice, 40 up and down once: 160 ms over 199 pairs, mean frame 10.4 ms
    assert found.values["pace_change"] == pytest.approx(100 * (160 / 199) / 10.4)
    assert found.values["below_target"] == pytest.approx(100 * 110 / 2080)
    assert found.values["hitches"] == pytest.approx(3 * 60 / 2.08)
    assert found.values["hitch_time"] == pytest.approx(100 * 110 / 2080)
    assert dict(found.tail_counts) == {
        "low1_percentile": 2,
        "low1_tail_mean": 2,
        "low1_time_share": 1,
        "low01_percentile": 1,
        "low01_tail_mean": 1,
        "low01_time_share": 1,
    }
    assert set(found.too_short) == set(found.tail_counts)


def test_the_time_share_low_counts_time_and_not_frames():
    """Ten frames of 100 ms and 100 of 10 ms: half of the two seconds lies in the ten slow ones."""
    ns = np.sort(frames([100.0] * 10 + [10.0] * 100).ns)[::-1]
    from_time = measure_run(Frames(ns)).values["low1_time_share"]
    assert from_time == pytest.approx(10.0)
    uneven = frames([50.0, 40.0, 30.0] + [10.0] * 788)  # 8 s: 1 % is 80 ms = 50 + part of 40
    assert measure_run(uneven).values["low1_time_share"] == pytest.approx(1000 / 40)


def test_the_average_is_frames_over_time_and_never_the_mean_of_rates():
    assert measure_run(frames([10.0, 30.0])).values["average"] == pytest.approx(50.0)  # the mean of rates would be 66.7


@pytest.mark.parametrize(("count", "share", "size"), [
    (700, 0.01, 7), (1100, 0.01, 11), (1101, 0.01, 12), (1, 0.01, 1), (2000, 0.001, 2), (2001, 0.001, 3), (29000, 0.001, 29),
])  # fmt: skip
def test_the_tail_is_rounded_up_and_safe_against_rounding_errors(count, share, size):
    assert tail_size(count, share) == size


def test_lows_that_fewer_than_ten_frames_decide_are_too_short_and_a_visit_is_pooled():
    rng = np.random.default_rng(1)
    runs = [frames(10 + rng.random(598)) for _ in range(2)]
    single = measure_run(runs[0])
    assert "low1_percentile" in single.too_short
    assert single.tail_counts["low1_percentile"] == 6
    assert math.isfinite(single.values["low1_percentile"])
    visit = pool(runs)
    assert visit.tail_counts["low1_percentile"] == 12
    assert "low1_percentile" not in visit.too_short
    assert "low01_percentile" in visit.too_short
    both = np.concatenate([run.ns for run in runs])
    assert visit.values["low1_percentile"] == pytest.approx(1e9 / np.quantile(both, 0.99))
    assert visit.values["average"] == pytest.approx(1e9 * both.size / both.sum())


def test_a_pool_takes_no_difference_across_two_runs():
    slow, fast = frames([20.0] * 50), frames([5.0] * 50)
    assert pool([slow, fast]).values["pace_change"] == 0
    assert pool([slow, fast]).values["hitches"] == 0
    assert measure_run(Frames(np.concatenate((slow.ns, fast.ns)))).values["pace_change"] > 0


def test_one_frame_has_an_average_and_no_pace_change():
    found = measure_run(frames([16.0]))
    assert found.values["average"] == pytest.approx(62.5)
    assert math.isnan(found.values["pace_change"])
    with pytest.raises(ValueError, match="at least one run"):
        pool([])


durations = arrays(np.int64, st.integers(1, 400), elements=st.integers(1, 2_000_000_000))


@given(durations, st.floats(1, 1000))
@settings(max_examples=150, deadline=None)
def test_laws_of_every_run(ns, target):
    found = measure_run(Frames(ns), target)
    values = found.values
    assert list(values) == list(FRAMED)
    fastest, slowest = 1e9 / ns.min(), 1e9 / ns.max()
    for share in (0.01, 0.001):
        percentile, mean, by_time = (values[low_key(d, share)] for d in ("percentile", "tail-mean", "time-share"))
        for low in (percentile, mean, by_time):
            assert slowest * (1 - 1e-12) <= low <= fastest * (1 + 1e-12)
        # the slowest frames: their own mean is slower than the place where they begin, and they take more than their share
        assert mean <= 1e9 / np.sort(ns)[-tail_size(ns.size, share)] * (1 + 1e-12)
        assert found.tail_counts[low_key("time-share", share)] <= tail_size(ns.size, share)
    assert 0 <= values["below_target"] <= 100
    assert 0 <= values["hitch_time"] <= 100
    # whole nanoseconds: order does not matter to what knows no order, not in the last bit
    again = measure_run(Frames(np.ascontiguousarray(ns[::-1])), target).values
    for key in ("average", "below_target", *(k for k in values if k.startswith("low"))):
        assert again[key] == values[key]
    twice = pool([Frames(ns), Frames(ns)], target).values
    assert twice["average"] == values["average"]
    assert twice["below_target"] == pytest.approx(values["below_target"], rel=1e-12)


@given(durations)
@settings(max_examples=60, deadline=None)
def test_the_same_frames_give_the_same_bits(ns):
    one, other = measure_run(Frames(ns)), measure_run(Frames(np.concatenate(([7], ns))[1:]))
    assert [v.hex() for v in one.values.values()] == [v.hex() for v in other.values.values()]


def test_the_catalogue_says_all_that_pages_need():
    for key, measure in CATALOGUE.items():
        assert measure.key == key
        assert all((measure.label, measure.unit, measure.help, measure.source))
        assert measure.margin > 0
        if measure.framed:
            assert (measure.scale is Scale.LOG) == (measure.unit == "frames per second")
            assert (measure.better is Better.HIGHER) == (measure.unit == "frames per second")
    assert low_key("percentile") == "low1_percentile"
    assert low_key("time-share", 0.001) == "low01_time_share"
    with pytest.raises(KeyError):
        low_key("median")


def test_a_long_run_takes_a_few_milliseconds():
    rng = np.random.default_rng(2)
    run = frames(8 * np.exp(0.2 * rng.standard_normal(12_000)))
    measure_run(run)
    best = min(_timed(run) for _ in range(5))
    assert best < 0.05  # 3 ms where it was written; the bound leaves room for a busy machine


def _timed(run: Frames) -> float:
    begun = time.perf_counter()
    measure_run(run)
    return time.perf_counter() - begun
