"""How firmly one run pins a number down: stationary bootstrap within the run, on demand.

This is not the uncertainty of a setup: what differs from visit to visit is not in one run. No verdict rests on it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from evenhand.frames.model import Floats, Frames
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.hitches import hitch_marks
from evenhand.measures.lows import NS_PER_S, tail_size, time_share_count
from evenhand.stats.bootstrap import Counts, block_length, percentile_interval, resample_weights

#: A measure of a resample: weights in time order, shape (n,) -> value.
Statistic: TypeAlias = Callable[[Counts], float]
FEWEST_FRAMES: Final = 40
#: Measures of what happens now and then: a run in which it never happens, or always, has nothing to resample.
EVENTS: Final = frozenset({"hitches", "hitch_time", "below_target"})
NOTHING: Final = (float("nan"), float("nan"), float("nan"))


@dataclass(frozen=True, slots=True)
class Resampled:
    """A measure made ready for resampling. `influence`, shape (n,), is what one frame adds to it, up to scale and constant; its
    correlations decide the block length.
    """

    influence: Floats
    statistic: Statistic


def run_interval(
    frames: Frames,
    key: str,
    confidence: float = 0.95,
    resamples: int = 2000,
    seed: int = 1,
    target_rate: float = 60.0,
) -> tuple[float, float, float]:
    """Interval of one run's measure and the mean block length (frames) it rests on: (low, high, block_length).

    Percentile interval of the stationary bootstrap, in the measure's unit. NaN, NaN, NaN for a run of fewer than 40 frames and
    for hitches or time below target where all or none of the frames are such: resampling cannot tell then.
    The same frames, seed and counts give the same numbers. Raises KeyError for a key that is not in the catalogue.
    """
    if key not in CATALOGUE:
        raise KeyError(key)
    n = len(frames)
    if n < FEWEST_FRAMES:
        return NOTHING
    resampled = _prepare(frames, key, target_rate)
    if key in EVENTS and not resampled.influence.any():
        return NOTHING
    block = block_length(resampled.influence)
    rng = np.random.default_rng(seed)
    draws = [resampled.statistic(resample_weights(rng, n, block)) for _ in range(resamples)]
    low, high = percentile_interval(draws, confidence)
    return low, high, block


def _prepare(frames: Frames, key: str, target_rate: float) -> Resampled:
    measure = CATALOGUE[key]
    if measure.low is not None and measure.tail_share is not None:
        return _LOWS[measure.low](frames.ns.astype(np.float64), measure.tail_share)
    return _ratio_of(frames, key, target_rate)


def _ratio_of(frames: Frames, key: str, target_rate: float) -> Resampled:
    """Measures that are a sum over a sum: what a frame adds to the one and to the other."""
    ns = frames.ns.astype(np.float64)
    if key == "average":
        above, factor, below = np.ones_like(ns), NS_PER_S, ns
    elif key == "pace_change":
        # The first frame has no frame before it; it counts with the mean of the others.
        change = np.abs(np.diff(ns))
        above, factor, below = np.concatenate(([change.mean()], change)), 100.0, ns
    elif key == "below_target":
        above, factor, below = np.where(ns > NS_PER_S / target_rate, ns, 0.0), 100.0, ns
    else:
        marks = hitch_marks(frames)
        begins = marks & ~np.concatenate(([False], marks[:-1]))
        per_minute = key == "hitches"
        above = begins.astype(np.float64) if per_minute else np.where(marks, ns, 0.0)
        factor, below = (60.0 * NS_PER_S if per_minute else 100.0), ns
    whole = float(above.sum() / below.sum())

    def statistic(weights: Counts) -> float:
        return factor * float((weights * above).sum()) / float((weights * below).sum())

    return Resampled(above - whole * below, statistic)


def _percentile(ns: Floats, share: float) -> Resampled:
    order = np.argsort(ns, kind="stable")[::-1]
    slowest_first = ns[order]
    position = (1 - share) * (ns.size - 1)
    whole = int(position)
    lower_rank, upper_rank = ns.size - whole, ns.size - whole - 1

    def statistic(weights: Counts) -> float:
        running = np.cumsum(weights[order])
        a, b = slowest_first[np.searchsorted(running, [lower_rank, max(upper_rank, 1)])]
        return NS_PER_S / float(a + (position - whole) * (b - a))

    return Resampled((ns > np.quantile(ns, 1 - share)).astype(np.float64), statistic)


def _tail_mean(ns: Floats, share: float) -> Resampled:
    order = np.argsort(ns, kind="stable")[::-1]
    slowest_first = ns[order]
    size = tail_size(ns.size, share)

    def statistic(weights: Counts) -> float:
        running = np.cumsum(weights[order])
        last = int(np.searchsorted(running, size))
        total = float((weights[order[:last]] * slowest_first[:last]).sum())
        before = int(running[last - 1]) if last else 0
        return NS_PER_S * size / (total + (size - before) * float(slowest_first[last]))

    edge = slowest_first[size - 1]
    return Resampled(np.maximum(ns - edge, 0.0), statistic)


def _time_share(ns: Floats, share: float) -> Resampled:
    order = np.argsort(ns, kind="stable")[::-1]
    slowest_first = ns[order]

    def statistic(weights: Counts) -> float:
        running = np.cumsum(weights[order] * slowest_first)
        at = int(np.searchsorted(running, share * float(running[-1])))
        return NS_PER_S / float(slowest_first[min(at, ns.size - 1)])

    edge = slowest_first[time_share_count(slowest_first.astype(np.int64), share) - 1]
    return Resampled(np.where(ns >= edge, ns, 0.0) - share * ns, statistic)


_LOWS = {"percentile": _percentile, "tail-mean": _tail_mean, "time-share": _time_share}
