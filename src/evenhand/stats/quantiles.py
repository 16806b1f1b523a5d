"""Sample quantiles by any of the nine definitions of Hyndman & Fan (1996), by number."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

Method = Literal[
    "inverted_cdf",
    "averaged_inverted_cdf",
    "closest_observation",
    "interpolated_inverted_cdf",
    "hazen",
    "weibull",
    "linear",
    "median_unbiased",
    "normal_unbiased",
]

#: Number in Hyndman, R. J., Fan, Y. (1996), Am. Stat. 50, 361-365 -> numpy's name for it.
TYPES: Final[Mapping[int, Method]] = MappingProxyType(
    {
        1: "inverted_cdf",
        2: "averaged_inverted_cdf",
        3: "closest_observation",
        4: "interpolated_inverted_cdf",
        5: "hazen",
        6: "weibull",
        7: "linear",
        8: "median_unbiased",
        9: "normal_unbiased",
    }
)


def quantile(values: ArrayLike, p: float, kind: int = 7) -> float:
    """The p-quantile of `values`, shape (n,), n >= 1, in their unit; `kind` is the type's number.

    Raises KeyError for a kind that is not 1 to 9, ValueError for p outside 0 to 1.
    """
    return float(np.quantile(np.asarray(values, dtype=np.float64), p, method=TYPES[kind]))
