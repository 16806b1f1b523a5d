"""Three rules that name a setup from gains at titles, on arrays: any leading axes (draws, bootstrap samples, left-out titles)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.model import Rule
from evenhand.judging.model import PooledCells
from evenhand.measures.model import Better

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


def gains(values: Floats, pooled: PooledCells) -> Floats:
    """Contrasts to the baseline (..., T, C) with the better direction positive."""
    return values if pooled.measure.better is Better.HIGHER else -values


def combined(parts: Sequence[Floats], margins: Sequence[float], weights: Sequence[float]) -> Floats:
    """Gains of several measures (each (..., T, C)) as one: their weighted mean, counted in margins of each measure.

    A gain of 1 is then a difference that just matters to a player.
    """
    total = sum(weights)
    shares = [w / total / m for w, m in zip(weights, margins, strict=True)]
    return np.asarray(sum(share * part for share, part in zip(shares, parts, strict=True)))


def regrets(gain: Floats) -> Floats:
    """(..., T, C): what each title loses under each setup against its best one; 0 for the best."""
    return np.asarray(gain.max(axis=-1, keepdims=True) - gain)


def choose(gain: Floats, votes: Floats, margin: float = 1.0) -> dict[Rule, Ints]:
    """The setup (...) that each rule names from gains (..., T, C); ties go to the earlier setup.

    votes : weights of the titles, (T,) or (..., T), not below 0, not all 0. A title without weight does not count for the worst.
    margin : in units of the gains. The third rule counts only what a regret has beyond it: the mean of whole regrets is the mean
    of the best gains less the mean gain, so that it would always name what the first rule names. Where several setups have none,
    the one of them with the highest mean gain is named.
    """
    regret = regrets(gain)
    share = votes / votes.sum(axis=-1, keepdims=True)
    mean = weighted(gain, share)
    worst = np.where(np.asarray(share > 0)[..., None], regret, 0.0).max(axis=-2)
    beyond = weighted(np.maximum(regret - margin, 0.0), share)
    least = beyond <= beyond.min(axis=-1, keepdims=True)
    return {
        Rule.MEAN: np.asarray(mean.argmax(axis=-1)),
        Rule.WORST: np.asarray(worst.argmin(axis=-1)),
        Rule.REGRET: np.asarray(np.where(least, mean, -np.inf).argmax(axis=-1)),
    }


def weighted(values: Floats, share: Floats) -> Floats:
    """(..., C): mean over titles of values (..., T, C) with shares (..., T) that sum to 1."""
    return np.asarray((share[..., None, :] @ values)[..., 0, :])
