"""The only file that speaks a verdict.

| verdict | rule, with the better direction made positive |
| --- | --- |
| level | the 90 % interval of this pair alone lies inside (−m, m): two one-sided tests at 5 % each (Schuirmann 1987) |
| ahead beyond the margin | the simultaneous 95 % interval lies at or above m |
| ahead | the simultaneous 95 % interval lies above 0 |
| behind (beyond the margin) | the mirror images |
| open | anything else |

Level wins where it and ahead both hold: ahead by less than matters. Level is not transitive.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenhand.judging.model import Interval, Verdict
from evenhand.measures.model import Better

#: Confidence of the interval that two one-sided tests at 5 % each amount to.
INNER_CONFIDENCE = 0.90

AHEAD = frozenset({Verdict.AHEAD, Verdict.AHEAD_BEYOND})
BEHIND = frozenset({Verdict.BEHIND, Verdict.BEHIND_BEYOND})

#: Verdicts in the order of the rules; the codes of `verdict_codes` are places in it.
VERDICTS = (Verdict.LEVEL, Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND, Verdict.AHEAD, Verdict.BEHIND, Verdict.OPEN)


def decide(simultaneous: Interval, inner: Interval, margin: float, better: Better) -> Verdict:
    """The verdict of a setup against another; `margin` > 0 on the scale of the intervals."""
    low, high = _towards_better(simultaneous, better)
    if -margin < inner.low and inner.high < margin:
        return Verdict.LEVEL
    if low >= margin > 0:
        return Verdict.AHEAD_BEYOND
    if high <= -margin < 0:
        return Verdict.BEHIND_BEYOND
    if low > 0:
        return Verdict.AHEAD
    if high < 0:
        return Verdict.BEHIND
    return Verdict.OPEN


def verdict_codes(
    estimate: npt.NDArray[np.float64],
    simultaneous: npt.NDArray[np.float64],
    inner: npt.NDArray[np.float64],
    margin: float,
    better: Better,
) -> npt.NDArray[np.intp]:
    """`decide` for many estimates at once, given with the half-widths of their two intervals; codes are places in `VERDICTS`."""
    ahead = estimate if better is Better.HIGHER else -estimate
    low, high = ahead - simultaneous, ahead + simultaneous
    rules = [
        (-margin < ahead - inner) & (ahead + inner < margin),
        (low >= margin) & (margin > 0),
        (high <= -margin) & (margin > 0),
        low > 0,
        high < 0,
    ]
    return np.asarray(np.select(rules, list(range(len(rules))), len(rules)), dtype=np.intp)


def leaning(simultaneous: Interval, better: Better) -> int:
    """1 where the interval lies wholly on the better side of 0, -1 wholly on the worse side, else 0."""
    low, high = _towards_better(simultaneous, better)
    return 1 if low > 0 else -1 if high < 0 else 0


def _towards_better(interval: Interval, better: Better) -> tuple[float, float]:
    if better is Better.HIGHER:
        return interval.low, interval.high
    return -interval.high, -interval.low
