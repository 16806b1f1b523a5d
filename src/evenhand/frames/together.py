"""What logs of one layout tell together when one alone does not: the same recorder wrote them, so one reading holds for all."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from evenhand.frames.candidates import UnclearLog
from evenhand.frames.model import Reading, Recipe, Role, Unit
from evenhand.frames.read import recipe_of

SAME_LENGTH: Final = 0.02  # variation of the length of a scene that is fixed by the clock,
APART: Final = 5.0  # and how many times as much any other reading must vary
ENOUGH: Final = 7  # more clear logs that agree than this are no chance, however many are unclear
FEWEST: Final = 3  # runs of a scene from which this can be told

Meant: TypeAlias = tuple[str, Role, Unit]


@dataclass(frozen=True, slots=True)
class Unsettled:
    """A log that can be read in several ways, and the scene it is of."""

    scene: str
    error: UnclearLog


def agreed(readings: Iterable[Reading], unsettled: Sequence[Unsettled] = ()) -> dict[str, Recipe]:
    """Layout -> the recipe that every clear log of it was read by.

    Not where they were read in different ways, nor where clear ones are few beside the unclear ones: then they may be chance.
    """
    found: dict[str, list[Recipe]] = defaultdict(list)
    for reading in readings:
        found[reading.layout.shape].append(recipe_of(reading))
    unclear = Counter(one.error.layout.shape for one in unsettled)
    return {shape: own[0] for shape, own in found.items() if len(set(own)) == 1 and len(own) > min(unclear[shape], ENOUGH)}


def by_length(unsettled: Sequence[Unsettled]) -> dict[str, Recipe]:
    """Layout -> the one reading under which runs of a scene last equally long, as they do where the clock ends a scene.

    Runs of different setups have different numbers of frames, so under a wrong reading their lengths differ.
    """
    lengths: dict[str, dict[Meant, dict[str, list[float]]]] = defaultdict(lambda: defaultdict(lambda: defaultdict(list)))
    layouts = {}
    for one in unsettled:
        layouts[one.error.layout.shape] = one.error.layout
        for c in one.error.candidates:
            lengths[one.error.layout.shape][c.column, c.role, c.unit][one.scene].append(c.seconds)
    settled = {}
    for shape, readings in lengths.items():
        varied = {meant: _variation(scenes) for meant, scenes in readings.items()}
        best = min(varied, key=lambda meant: varied[meant])
        others = [v for meant, v in varied.items() if meant != best]
        if varied[best] <= SAME_LENGTH and others and min(others) >= APART * max(varied[best], 1e-3):
            layout = layouts[shape]
            settled[shape] = Recipe(shape, *best, layout.decimal, layout.delimiter)
    return settled


def _variation(scenes: dict[str, list[float]]) -> float:
    """Median over the scenes of the coefficient of variation of the runs' lengths; infinite with too few runs of each."""
    each = [float(np.std(runs) / np.mean(runs)) for runs in scenes.values() if len(runs) >= FEWEST]
    return float(np.median(each)) if each else float("inf")
