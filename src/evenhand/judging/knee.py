"""Where more of a factor ends to pay: the lowest level from which on no higher level is better by more than the margin.

Two claims are made, each by the rules of the verdicts. "Too low": a higher level is ahead beyond the margin, by intervals that
hold for all pairs of levels at once. "Enough": no higher level is better by more than the margin, each shown at 5 % one-sided
(half of two one-sided tests); tried from the top downwards until one fails, so that the error of the whole chain is that of one
test (a fixed sequence of nested hypotheses; the claim of one level is an intersection–union test).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def knee(gain: Floats, simultaneous: Floats, inner: Floats, margin: float) -> tuple[int, int]:
    """(lowest level not shown to be too low, lowest level shown to be enough), indices of L levels by rising value.

    gain : (L, L), [i, j] what level j is better than level i, better positive. simultaneous, inner : (L, L) half-widths of the
    95 % interval over all pairs and the 90 % interval of the pair. margin : on the same scale.
    """
    above = np.triu(np.ones(gain.shape, dtype=bool), 1)
    too_low = (above & (gain - simultaneous >= margin) & (margin > 0)).any(axis=1)
    lacking = (above & ~(gain + inner < margin)).any(axis=1)
    last_too_low, last_lacking = np.flatnonzero(too_low), np.flatnonzero(lacking)
    at_least = int(last_too_low[-1]) + 1 if last_too_low.size else 0
    enough = int(last_lacking[-1]) + 1 if last_lacking.size else 0
    return at_least, max(enough, at_least)
