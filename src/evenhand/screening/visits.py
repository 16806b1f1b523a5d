"""How far each visit lies from the other visits of its setup, scene by scene.

For a visit as a whole its own runs cannot say what to expect. It is held against the middle visit of each of its cells, and
what the visits of its round (those of the same number) share is taken off.
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
    minus the cell's middle visit minus shift, NaN in cells of fewer than three visits.
    """

    keys: tuple[RunKey, ...]
    value: Floats
    shift: Floats
    misfit: Floats
    middle: Mapping[tuple[str, str, str], float]

    def left(self, index: int, setup: str) -> float:
        """The misfit that would be left, were the visit one of `setup`; infinite where that was never run."""
        key = self.keys[index]
        there = self.middle.get((key.title, key.scene, setup), float("inf"))
        return float(self.value[index] - there - self.shift[index])

    def scale_without(self, visit: int) -> float:
        """Spread of the misfits in all other rounds: a wrong visit spoils what is expected of its own round. The middle visit of
        a cell, which lies apart by nothing, does not count.
        """
        away = self.misfit + self.shift
        others = np.array([k.visit != visit for k in self.keys]) & (away != 0)
        scale = spread_about_zero(self.misfit[others], LEAST_SPREAD)
        return scale if np.isfinite(scale) else LEAST_SPREAD


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
    shift = _round_shifts(keys, away)
    return VisitsApart(tuple(keys), value, shift, away - shift, middle)


def _round_shifts(keys: Sequence[RunKey], away: Floats) -> Floats:
    """For each key the shift that its round's visits share: the median of their middles and of no shift at all, so that one
    wrong visit of two does not pass for a slow day.
    """
    visits: dict[int, dict[str, list[float]]] = {}
    for k, a in zip(keys, away, strict=True):
        if not np.isnan(a):
            visits.setdefault(k.visit, {}).setdefault(k.setup, []).append(float(a))
    shift = {visit: float(np.median([0.0, *(np.median(x) for x in setups.values())])) for visit, setups in visits.items()}
    return np.array([shift.get(k.visit, 0.0) for k in keys])
