"""The grid of studies that are counted from frames to verdicts, and what is asked of them."""

from __future__ import annotations

import multiprocessing
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.rehearsal.count_verdicts import Counted, gather, go
from evenhand.rehearsal.from_frames import FrameStudy
from evenhand.rehearsal.redo import Way
from evenhand.rehearsal.simulate import Truth

PROCESSES: Final = 2
#: Figure -> (label, lowest, highest) that is asked for.
ASKED: Final[Mapping[str, tuple[str, float, float]]] = {
    "title": ("at titles", 0.935, 1.0),
    "family": ("all of a title", 0.94, 1.0),
    "over": ("over titles", 0.935, 1.0),
    "false_ahead": ("ahead falsely", 0.0, 0.025),
    "false_ahead_over": ("ahead, over titles", 0.0, 0.025),
    "false_level": ("level falsely", 0.0, 0.05),
    "false_level_over": ("level, over titles", 0.0, 0.05),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """A kind of study and what it is called."""

    name: str
    kind: FrameStudy


def cells() -> tuple[Cell, ...]:
    """Small studies as reviewers make them, then variations of the first."""
    usual = Truth(titles=5, setups=3, visits=3, runs=2, run_noise=0.01, visit_shift=0.01, title_shift=0.005)
    first = FrameStudy(usual)

    def noise(**changes: object) -> FrameStudy:
        return replace(first, noise=replace(usual, **changes))  # type: ignore[arg-type]

    kinds = {
        "usual": first,
        "4 titles, 2 setups, 2 visits of 3": noise(titles=4, setups=2, visits=2, runs=3),
        "4 titles, 3 setups, 2 visits of 2": noise(titles=4, visits=2),
        "8 titles, 4 setups, 2 visits of 2": noise(titles=8, setups=4, visits=2),
        "calm bench": noise(run_noise=0.003, visit_shift=0.003, title_shift=0.002),
        "rough bench": noise(run_noise=0.04, visit_shift=0.03, title_shift=0.01),
        "rounds shift by 5 %": noise(round_shift=0.05),
        "noise of t, 4 df": noise(tails=4.0),
        "titles unlike": noise(unlike=0.5),
        "15 % spoiled": replace(first, spoiled=0.15),
        "15 % spoiled, one setup alone": replace(first, spoiled=0.15, one_setup=True),
        "3 titles near a cap": replace(first, capped=3),
        "scenes of 600 frames": replace(first, frames=(600, 600)),
        "scenes of 3000 frames": replace(first, frames=(3000, 3000)),
    }
    return tuple(Cell(name, replace(kind, seed=101 + i)) for i, (name, kind) in enumerate(kinds.items()))


def run(chosen: Sequence[Cell], studies: int, processes: int = PROCESSES) -> list[dict[Way, Counted]]:
    """Count every cell; the seed of a cell and the number of a study alone decide what is drawn."""
    tasks = [(cell.kind, study) for cell in chosen for study in range(studies)]
    if processes == 1:
        outcomes = [go(kind, study) for kind, study in tasks]
    else:
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(processes, mp_context=context) as pool:
            outcomes = list(pool.map(go, *zip(*tasks, strict=True), chunksize=25))
    by_cell = [outcomes[i : i + studies] for i in range(0, len(outcomes), studies)]
    return [{way: gather([o[way] for o in mine]) for way in Way} for mine in by_cell]


def share(values: Floats) -> tuple[float, float]:
    """Mean over studies and its Monte Carlo standard error."""
    return float(values.mean()), float(values.std(ddof=1) / np.sqrt(values.size))


def misses(counted: Counted, measure: str, reach: float = 2.0) -> tuple[str, ...]:
    """Figures outside what is asked for by more than `reach` Monte Carlo standard errors."""
    found = []
    for name, (label, low, high) in ASKED.items():
        value, error = share(counted.figures[measure][name])
        if not low - reach * error <= value <= high + reach * error:
            found.append(f"{label} {value * 100:.1f} %")
    return tuple(found)
