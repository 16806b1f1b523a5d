"""How fast each run was, against what the other runs lead one to expect of it.

The log rate of a run is taken as level of its cell + shift of its visit + its own. Levels and shifts are medians, each run
being left out of what it is compared with. A visit's shift leans on the visit's other runs and, where these are few, on the
other visits of the same round, which were near in time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from evenhand.frames.model import Floats
from evenhand.stats.robust import median_without, spread_about_zero
from evenhand.study.model import RunKey

Cell: TypeAlias = tuple[str, str, str]  # title, scene, setup
Groups: TypeAlias = dict[tuple[str | int, ...], NDArray[np.intp]]

LEAST_SPREAD: Final = 0.005  # of a log rate: runs that agree better than half a per cent are not told apart
_SWEEPS: Final = 4  # between cells and visits; they have settled by then
_ROUND_WEIGHT: Final = 2  # the round's shift counts as so many runs of the visit
_PRIOR_RUNS: Final = 10  # a scene's own spread counts as much as the study's from so many runs on


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Log rates and what the other runs say about them; arrays of shape (runs,), NaN where they say nothing.

    value : log rate. shift : expected shift of the run's visit. beside : level of its cell, from the cell's other runs.
    odd : value - beside - shift. scale : spread of `odd` among the runs of its scene. mates : other runs of the cell.
    adjusted : per cell, log rates of its runs without their visits' shifts.
    """

    keys: tuple[RunKey, ...]
    value: Floats
    shift: Floats
    beside: Floats
    odd: Floats
    scale: Floats
    mates: NDArray[np.intp]
    adjusted: Mapping[Cell, Floats]

    def under(self, index: int, setup: str) -> float:
        """Expected log rate of a run, its visit's shift included, had it been made under `setup`; NaN where unknown."""
        key = self.keys[index]
        there = self.adjusted.get((key.title, key.scene, setup))
        return float(np.median(there) + self.shift[index]) if there is not None else float("nan")


def fit_levels(keys: Sequence[RunKey], value: Floats) -> Levels:
    """Levels of all runs. keys, value : one a run, in the same order; value is a finite log rate."""
    cells = _gather([(k.title, k.scene, k.setup) for k in keys])
    visits = _gather([(k.setup, k.visit) for k in keys])
    rounds = _gather([(k.visit,) for k in keys])
    shift = np.zeros(len(keys))
    for _ in range(_SWEEPS):
        beside = _beside(value - shift, cells)
        shift = _shifts(keys, value - beside, visits, rounds)
    beside = _beside(value - shift, cells)
    odd = value - beside - shift
    mates = np.zeros(len(keys), dtype=np.intp)
    for members in cells.values():
        mates[members] = members.size - 1
    adjusted = {(str(c[0]), str(c[1]), str(c[2])): (value - shift)[members] for c, members in cells.items()}
    return Levels(tuple(keys), value, shift, beside, odd, _scales(keys, odd), mates, adjusted)


def _gather(names: Sequence[tuple[str | int, ...]]) -> Groups:
    found: dict[tuple[str | int, ...], list[int]] = {}
    for i, name in enumerate(names):
        found.setdefault(name, []).append(i)
    return {name: np.array(members, dtype=np.intp) for name, members in found.items()}


def _beside(adjusted: Floats, cells: Groups) -> Floats:
    """For each run the median of its cell's other runs; NaN where it is alone."""
    out = np.full(adjusted.size, np.nan)
    for members in cells.values():
        out[members] = median_without(adjusted[members, None])[:, 0]
    return out


def _shifts(keys: Sequence[RunKey], residual: Floats, visits: Groups, rounds: Groups) -> Floats:
    """Expected shift of each run's visit: the median of the visit's other runs and the round's other visits' middle."""
    out = np.zeros(len(keys))
    known = ~np.isnan(residual)
    setups = np.array([k.setup for k in keys])
    for (setup, visit), members in visits.items():
        others = rounds[(visit,)]
        others = others[(setups[others] != setup) & known[others]]
        anchor = [float(np.median(residual[others]))] * _ROUND_WEIGHT if others.size else []
        for i in members:
            beside = members[(members != i) & known[members]]
            evidence = np.concatenate([residual[beside], anchor])
            out[i] = np.median(evidence) if evidence.size else 0.0
    return out


def _scales(keys: Sequence[RunKey], odd: Floats) -> Floats:
    """Spread of `odd` per scene, drawn towards the study's where the scene has few runs."""
    study = spread_about_zero(odd, LEAST_SPREAD)
    out = np.full(len(keys), study)
    for members in _gather([(k.title, k.scene) for k in keys]).values():
        n = int(np.sum(~np.isnan(odd[members])))
        if n:
            own = spread_about_zero(odd[members], LEAST_SPREAD)
            out[members] = np.sqrt((n * own**2 + _PRIOR_RUNS * study**2) / (n + _PRIOR_RUNS))
    return out
