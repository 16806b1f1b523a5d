"""Which setup is recommended, from verdicts alone, on arrays: for the answer itself and for every other choice of titles."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenhand.judging.decide import AHEAD, BEHIND, VERDICTS
from evenhand.judging.model import Verdict

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

#: Code of a comparison without a verdict; the others are places in `VERDICTS`.
UNTOLD = len(VERDICTS)

_NOT_BEHIND = [VERDICTS.index(v) for v in VERDICTS if v is Verdict.LEVEL or v in AHEAD]
_BEHIND = [VERDICTS.index(v) for v in BEHIND]
_BEYOND = VERDICTS.index(Verdict.AHEAD_BEYOND)


def decide_setup(over: Ints, lead: Floats, behind: Bools, brings: Bools, baseline: int) -> Ints:
    """The setup recommended, (...), as its place among C.

    over : (..., M, C), codes of each setup's verdict against the baseline over titles, in the M measures that have weight.
    lead : (..., C), mean gain in all of them, which chooses between setups that have the same reason. behind : (..., C), clearly
    behind the baseline at a title that counts. brings : (C,), a benefit is stated. The baseline's own column is not looked at.

    The baseline, unless another setup is ahead beyond the margin in a measure and behind in none; or, if there is none such, one
    brings a benefit, is ahead or level in every measure, and is clearly behind at no title.
    """
    better = surely_better(over)
    worth = is_worth_it(over, behind, brings)
    better[..., baseline], worth[..., baseline] = False, False
    candidates = np.where(better.any(axis=-1, keepdims=True), better, worth)
    named = np.where(candidates, lead, -np.inf).argmax(axis=-1)
    return np.asarray(np.where(candidates.any(axis=-1), named, baseline))


def surely_better(over: Ints) -> Bools:
    """(..., C): ahead beyond the margin in a measure, behind in none."""
    return np.asarray((over == _BEYOND).any(axis=-2) & ~np.isin(over, _BEHIND).any(axis=-2))


def is_worth_it(over: Ints, behind: Bools, brings: Bools) -> Bools:
    """(..., C): brings a benefit, is level or ahead in every measure, and clearly behind at no title."""
    return np.asarray(brings & ~behind & np.isin(over, _NOT_BEHIND).all(axis=-2))
