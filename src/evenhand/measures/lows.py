"""The three definitions of a low that the trade uses, from the durations of frames.

Durations come sorted, slowest first, as whole nanoseconds, so that sums are exact. Each function returns the low in frames per
second; `deciding` says how many frames it rests on.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from evenhand.frames.model import Nanoseconds
from evenhand.stats.quantiles import quantile

NS_PER_S: Final = 1e9
#: A low that fewer frames decide is too short to state for a single run (design choice: docs/methods/average-and-lows.md).
FEWEST_DECIDING: Final = 10


def tail_size(frames: int, share: float) -> int:
    """⌈share · frames⌉, safe against the rounding of `share` (0.01 · 700 is 7, not 8)."""
    return max(1, math.ceil(share * frames - 1e-9))


def percentile_low(slowest_first: Nanoseconds, share: float, kind: int = 7) -> float:
    """Rate of the (1 − share) quantile of the durations; `kind` is the type of Hyndman & Fan. Shape (n,), n >= 1."""
    return NS_PER_S / quantile(slowest_first, 1 - share, kind)


def tail_mean_low(slowest_first: Nanoseconds, share: float) -> float:
    """Rate of the mean duration of the slowest ⌈share · n⌉ frames. Shape (n,), n >= 1."""
    tail = slowest_first[: tail_size(slowest_first.size, share)]
    return NS_PER_S * tail.size / int(tail.sum())


def time_share_count(slowest_first: Nanoseconds, share: float) -> int:
    """The least number of slowest frames that fill the share of the time. Shape (n,), n >= 1."""
    running = np.cumsum(slowest_first)
    return min(int(np.searchsorted(running, share * float(running[-1]))) + 1, slowest_first.size)


def time_share_low(slowest_first: Nanoseconds, share: float) -> float:
    """Rate of the frame at which the slowest frames fill the share of the time. Shape (n,), n >= 1."""
    return NS_PER_S / int(slowest_first[time_share_count(slowest_first, share) - 1])


def low(slowest_first: Nanoseconds, definition: str, share: float, kind: int = 7) -> tuple[float, int]:
    """A low by the value of its definition, and the number of frames that decide it. Raises KeyError for another definition."""
    if definition == "percentile":
        return percentile_low(slowest_first, share, kind), tail_size(slowest_first.size, share)
    if definition == "tail-mean":
        return tail_mean_low(slowest_first, share), tail_size(slowest_first.size, share)
    if definition == "time-share":
        return time_share_low(slowest_first, share), time_share_count(slowest_first, share)
    raise KeyError(definition)
