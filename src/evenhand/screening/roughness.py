"""How much the frame time changes from one frame to the next, against the other runs of the cell and visit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.levels import fit_levels
from evenhand.screening.survey import Survey

_LEAST: Final = 0.15  # spread of log roughness below which differences mean nothing


@dataclass(frozen=True, slots=True, eq=False)
class OddRoughness:
    """Arrays of shape (runs,), NaN for a run alone in its cell. value : log roughness. odd : minus what cell and visit lead
    one to expect. z : odd in its spread among the scene's runs.
    """

    value: Floats
    odd: Floats
    z: Floats
    cells: dict[tuple[str, str, str], float]

    def z_under(self, survey: Survey, i: int, setup: str) -> float:
        """The z that the run would have under another setup; NaN where that was never run."""
        key = survey.key(i)
        there = self.cells.get((key.title, key.scene, setup), float("nan"))
        scale = self.odd[i] / self.z[i] if self.z[i] else _LEAST
        return float((self.value[i] - there) / scale)


def odd_roughness(survey: Survey) -> OddRoughness:
    """Roughness of every run beside the others', by the same additive rule as its rate."""
    value = np.log(np.array([max(t.rough, 1e-6) for t in survey.traits]))
    levels = fit_levels([r.key for r in survey.runs], value)
    scale = np.maximum(levels.scale, _LEAST)
    cells = {cell: float(np.median(x)) for cell, x in levels.adjusted.items()}
    return OddRoughness(value, levels.odd, levels.odd / scale, cells)
