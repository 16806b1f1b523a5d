"""Contrasts that are judged together: intervals that hold for all of them at once."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenhand.judging.critical import t_quantile
from evenhand.stats import maxt

Floats = npt.NDArray[np.float64]


def family_quantiles(weights: Floats, visits: npt.NDArray[np.intp], df: Floats, confidence: float) -> Floats:
    """(K,): critical values of |t| for contrasts `weights` (K, C) of setups' means with these numbers of `visits` (C,).

    A mean's variance goes with one over its visits, in both parts of the noise, so the correlation hangs on the visits alone.
    One contrast by itself has Student's t. Infinite where df (K,) is 0.
    """
    if weights.shape[0] == 1:
        return t_quantile(df, confidence)
    scaled = weights / np.sqrt(np.maximum(visits, 1))
    unit = scaled / np.sqrt((scaled**2).sum(axis=1, keepdims=True))
    critical = maxt.quantile(np.round(unit @ unit.T, 2), np.maximum(df, 0.5), confidence)
    return np.asarray(np.where(df > 0, critical, np.inf))
