"""What the titles say of each other: their contrasts drawn together as far as the titles are alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.measures.model import Measure

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PooledCells:
    """One measure: T titles under C setups, as contrasts to the baseline on the measure's scale, sign of the value.

    titles, setups : those that could be pooled, in the design's order; the baseline is among the setups. margin : on the scale.
    present : (T, C), False where a title lacks the setup; its estimate is then what the other titles let expect.
    raw : (T, C), as measured, NaN where absent. estimate : (T, C), partially pooled.
    own : (T, C, C), posterior covariance of a title's contrasts, without what its visits share with the other titles'.
    shared : (C, C), covariance of what a visit shift puts on all titles alike; it must not be averaged away over titles.

    For draws: spread, what `stats.heavy_tails` learned of the titles (None for a single title); contrast : (C, J), from its J
    directions to contrasts; shift : (C, K), what a unit shift of each of K visits puts on the contrasts; total, total_df,
    own_share : s²_Z, its degrees of freedom and the part of it that is the titles' own: σ²_V = max(0, s²_Z − own_share).
    """

    measure: Measure
    margin: float
    titles: tuple[str, ...]
    setups: tuple[str, ...]
    baseline: str
    present: npt.NDArray[np.bool_]
    raw: Floats
    estimate: Floats
    own: Floats
    shared: Floats
    spread: object
    contrast: Floats
    shift: Floats
    total: float
    total_df: float
    own_share: float
