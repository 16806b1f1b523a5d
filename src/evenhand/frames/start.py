"""Where the scene's own frames begin in a log: one rule for every setup, from the log alone.

Two things may stand before the scene. A *loading* interval: one very long frame among the first ten. A *screen transition*:
a short stretch whose pace is set by a clock and not by the PC, clearly slower than what follows, with a sharp edge. Both go,
together with the interval that leads from the last frame before the scene to its first. Everything else stays: a slow first
second, a stutter, a cap. Method and measured error rates: docs/methods/start-and-stretch.md.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from evenhand.frames.model import Floats, Frames, Start

#: Kept with every stretch, so that a book says by which rule its starts were found.
START_RULE: Final = "loading-and-transition-1"

FEWEST: Final = 40  # a shorter log has no "later" to compare with
FIRST: Final = 10  # loading is looked for in the first ten intervals
LOADING_MS: Final = 80.0
LOADING_FACTOR: Final = 8.0
SURELY_LOADING_MS: Final = 1000.0
ALIKE: Final = 1.5  # frames before and after a long one within this factor: the scene had begun, it is a stutter

LEAD: Final = 3  # irregular frames before a transition settles
SHORTEST: Final = 24  # frames, and at least
SHORTEST_S: Final = 0.4
LONGEST_S: Final = 3.0
FASTER: Final = 0.67  # the scene's frames take at most this share of the transition's
STEADY: Final = 0.06  # sums of eight frames stay within 6 % of their mean
DRIFT: Final = 0.03  # second half against first half
BY_CLOCK: Final = ((4, 1.05), (12, 0.55))  # variance of sums of so many frames, as a share of what independent ones would give
SYNC: Final = 0.015  # whole multiples of a steady later pace within 1.5 %: the display's rhythm, which is the scene's own


def find_start(frames: Frames) -> Start:
    """The first frame that belongs to the scene. Looks at nothing but this log; never fails."""
    ms = frames.ms
    if len(frames) < FEWEST:
        return Start(0, 0.0, False, False, "too short a log to look for loading: all of it counts")
    loaded = loading_end(ms)
    begun = transition_end(ms, loaded)
    first = loaded if begun is None else begun
    words = []
    if loaded:
        words.append(f"loading of {ms[loaded - 1]:.0f} ms in row {loaded}")
    if begun is not None:
        words.append(f"a screen transition at a steady {ms[loaded + LEAD : begun - 1].mean():.1f} ms a frame up to row {begun}")
    why = f"passed over: {' and '.join(words)}" if words else "the scene begins with the log"
    return Start(first, float(frames.ns[:first].sum() / 1e9), loaded > 0, begun is not None, why)


def loading_end(ms: Floats) -> int:
    """Index of the first frame after the loading interval; 0 where there is none. ms, shape (n,), n >= FEWEST."""
    at = int(np.argmax(ms[:FIRST]))
    longest = ms[at]
    if longest < LOADING_MS or longest < LOADING_FACTOR * np.median(ms[FIRST:]):
        return 0
    if at >= 3 and longest < SURELY_LOADING_MS:
        ratio = np.median(ms[:at]) / np.median(ms[at + 1 : at + 11])
        if 1 / ALIKE < ratio < ALIKE:
            return 0
    return at + 1


def transition_end(ms: Floats, first: int) -> int | None:
    """Index of the first frame between two frames of the scene, after a transition that begins at `first` (give or take
    `LEAD` irregular frames); None where there is no transition. ms, shape (n,).
    """
    begin = first + LEAD
    pace = float(np.median(ms[begin : begin + SHORTEST]))
    edge = _sharp_edge(ms, begin + SHORTEST, pace)
    if edge is None:
        return None
    stretch = ms[begin:edge]
    seconds = stretch.sum() / 1000
    if not SHORTEST_S <= seconds <= LONGEST_S or ms.size - edge < FEWEST:
        return None
    if not _paced_by_clock(stretch) or _rhythm_of_display(stretch, ms[edge : edge + 60]):
        return None
    return edge + 1


def _sharp_edge(ms: Floats, begin: int, pace: float) -> int | None:
    """The first frame from which on the pace is clearly faster than `pace`, at once."""
    last = begin + int(np.searchsorted(np.cumsum(ms[begin:]), 1000 * LONGEST_S)) + 1
    fast = ms[begin : last + 1] < FASTER * pace
    for edge in begin + np.flatnonzero(fast[:-1] & fast[1:]):
        later = ms[edge : edge + 30]
        if later.size >= 8 and np.median(later[:8]) < FASTER * pace and np.median(later) < FASTER * pace:
            return int(edge)
    return None


def _paced_by_clock(stretch: Floats) -> bool:
    """Whether frames are handed out by a clock: sums of neighbours are more regular than the frames themselves, and nothing
    drifts. Frames that the PC draws as fast as it can wander instead: their sums spread more, not less.
    """
    mean = stretch.mean()
    eights = np.convolve(stretch, np.full(8, 1 / 8), "valid")
    if np.abs(eights / mean - 1).max() > STEADY:
        return False
    half = stretch.size // 2
    if abs(stretch[half:].mean() / stretch[:half].mean() - 1) > DRIFT:
        return False
    return all(_regularity(stretch, count) <= most for count, most in BY_CLOCK)


def _regularity(stretch: Floats, count: int) -> float:
    """Variance of the sums of `count` neighbours about their mean, over what independent frames would give (1); the last factor
    makes up for taking the mean from the same frames.
    """
    if stretch.min() == stretch.max():
        return 0.0
    sums = np.convolve(stretch - stretch.mean(), np.ones(count), "valid")
    return float((sums @ sums) / sums.size / (count * stretch.var() * (1 - count / stretch.size)))


def _rhythm_of_display(stretch: Floats, later: Floats) -> bool:
    """Whether both paces are one display's: the later frames are steady and the earlier ones take a whole multiple of them."""
    step = float(np.median(later))
    if np.median(np.abs(later - step)) > SYNC * step:
        return False
    multiple = stretch.mean() / step
    return bool(abs(multiple / round(multiple) - 1) <= SYNC)
