"""Several p values at once: adjusted so that each can be compared with the level directly."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]


def benjamini_hochberg(p: ArrayLike) -> Floats:
    """Adjusted p values for the false-discovery rate, independent or positively dependent tests (Benjamini & Hochberg 1995).

    p : shape (m,), as is the result. ValueError outside [0, 1].
    """
    values = np.asarray(p, np.float64)
    if values.ndim != 1 or not np.all((values >= 0) & (values <= 1)):
        raise ValueError("p values are one row of numbers between 0 and 1")
    return np.asarray(stats.false_discovery_control(values), np.float64) if values.size else values
