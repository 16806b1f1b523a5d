"""How far each visit lies from the other visits of its setup, scene by scene.

For a visit as a whole its own runs cannot say what to expect. It is held against the middle visit of each of its cells, and
what the round shared (the other setups' visits of that number) is taken off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.levels import LEAST_SPREAD
from evenhand.stats.robust import spread_about_zero
from evenhand.study.model import RunKey

LEAST_VISITS: Final = 3  # of a cell, so that one wrong one is not its middle


@dataclass(frozen=True, slots=True, eq=False)
class VisitsApart:
    """Cells by visit. keys : one a scene, setup and visit (run is 0). value : log rate. shift : of the round. misfit : value
    minus the cell's middle visit minus shift, NaN in cells of fewer than three visits. scale : spread of the misfits.
    """

    keys: tuple[RunKey, ...]
    value: Floats
    shift: Floats
    misfit: Floats
    scale: float
    middle: Mapping[tuple[str, str, str], float]

    def left(self, index: int, setup: str) -> float:
        """The misfit that would be left, were the visit one of `setup`; infinite where that was never run."""
        key = self.keys[index]
        there = self.middle.get((key.title, key.scene, setup), float("inf"))
        return float(self.value[index] - there - self.shift[index])


def visits_apart(keys: Sequence[RunKey], value: Floats) -> VisitsApart:
    """keys, value : middle log rate of each scene, setup and visit, in the same order."""
    cells: dict[tuple[str, str, str], list[int]] = {}
    for i, k in enumerate(keys):
        cells.setdefault((k.title, k.scene, k.setup), []).append(i)
    middle = {cell: float(np.median(value[members])) for cell, members in cells.items()}
    away = np.full(value.size, np.nan)
    for cell, members in cells.items():
        if len(members) >= LEAST_VISITS:
            away[members] = value[members] - middle[cell]
    shift = np.zeros(value.size)
    for i, k in enumerate(keys):
        others = [away[j] for j, o in enumerate(keys) if o.visit == k.visit and o.setup != k.setup and not np.isnan(away[j])]
        shift[i] = np.median(others) if others else 0.0
    misfit = away - shift
    scale = spread_about_zero(misfit[away != 0], LEAST_SPREAD)  # the middle visit itself lies apart by nothing
    return VisitsApart(tuple(keys), value, shift, misfit, scale if np.isfinite(scale) else LEAST_SPREAD, middle)
