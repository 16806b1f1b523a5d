"""Traces and slow-frame curves: what is drawn is what the frames say, and no spike is lost."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.charts.slow import slow_curve
from evenhand.charts.trace import pace_trace, thinned
from evenhand.frames.model import Frames

durations = st.lists(st.integers(200_000, 400_000_000), min_size=1, max_size=400)


def frames(ns: list[int]) -> Frames:
    return Frames(np.array(ns, np.int64))


@given(st.lists(durations, min_size=1, max_size=4), st.sampled_from(["clock", "frames"]), st.integers(1, 60), st.integers(1, 60))
def test_no_spike_is_lost(runs: list[list[int]], pace: str, bins: int, fewer: int) -> None:
    whole = [frames(r) for r in runs]
    trace = pace_trace("a", whole, pace, bins=bins)
    longest = max(float(r.ms.max()) for r in whole)
    assert float(trace.slowest.min()) == pytest.approx(1000 / longest)
    assert float(thinned(trace, fewer).slowest.min()) == float(trace.slowest.min())
    assert (trace.slowest <= trace.rate * (1 + 1e-9)).all()
    assert thinned(trace, fewer).at.size <= max(fewer, 1)


@given(durations)
def test_one_bin_holds_the_average(ns: list[int]) -> None:
    """Average frame rate = frames over time (common practice, no source)."""
    run = frames(ns)
    assert float(pace_trace("a", [run], "clock", bins=1).rate[0]) == pytest.approx(len(run) / run.seconds)


def test_a_slow_stretch_is_where_it_is() -> None:
    """10 s at 100 frames a second, 10 s at 50: the rate halves in the middle of the clock, after two thirds of the frames."""
    run = frames([10_000_000] * 1000 + [20_000_000] * 500)
    clock, count = pace_trace("a", [run, run], "clock", bins=20), pace_trace("a", [run, run], "frames", bins=30)
    assert np.allclose(clock.rate, [100] * 10 + [50] * 10)
    assert np.allclose(count.rate, [100] * 20 + [50] * 10)
    assert clock.unit == "seconds"
    assert count.at[-1] == pytest.approx(1475)
    assert clock.runs == 2


@given(st.lists(durations, min_size=1, max_size=3))
def test_curve_is_the_quantile_function(runs: list[list[int]]) -> None:
    """Against numpy's inverted empirical distribution (Hyndman & Fan 1996, type 1), read from the slow end."""
    curve = slow_curve("a", [frames(r) for r in runs])
    every = np.concatenate([frames(r).ms for r in runs])
    assert np.allclose(curve.ms, -np.quantile(-every, curve.share - 0.5 / every.size, method="inverted_cdf"))
    assert curve.ms[0] == every.max()
    assert curve.share[-1] == 1
    assert (np.diff(curve.ms) <= 0).all()


def test_nothing_to_line_up_is_an_error() -> None:
    with pytest.raises(ValueError, match="no run to line up"):
        pace_trace("a", [], "clock")
