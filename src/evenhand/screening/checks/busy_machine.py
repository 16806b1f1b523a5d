"""Busy machine: something else took processor time, for a stretch of the scene or throughout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenhand.frames.model import Floats
from evenhand.screening.content import LEAST_BINS, match, play
from evenhand.screening.found import Found, change_words, doubt
from evenhand.screening.roughness import odd_roughness
from evenhand.screening.survey import SceneSurvey, Survey
from evenhand.stats.robust import median_without, spread

BLOCKS: Final = 48  # of a scene, in which a stretch is looked for
_LEAST_RUNS: Final = 4  # of a scene, below which its own spread of steps is not known
_LEAST_STEP: Final = 0.10  # of a log duration
_ENOUGH_MATES: Final = 3  # from which on a cell's own shape is known
_LEAST_SPREAD: Final = 0.03  # of the root of the steps' strength: no scene is steadier


@dataclass(frozen=True, slots=True)
class Step:
    """The best slower stretch of a run. strength : contrast times the root of the share of the scene inside times outside.
    contrast : log duration inside minus outside; begin, end : shares of the scene.
    """

    strength: float
    contrast: float
    begin: float
    end: float


def find(survey: Survey, threshold: float) -> Found:
    """Runs with a slower stretch that the other runs lack, and runs that are rougher and slower throughout."""
    found = Found()
    rough = odd_roughness(survey)
    levels = survey.levels
    for i, run in enumerate(survey.runs):
        slow = levels.odd[i] / levels.scale[i] <= -1.0 or np.isnan(levels.odd[i])
        if rough.z[i] >= threshold and slow:
            said = (
                f"From one frame to the next the frame time changes {np.exp(rough.odd[i]):.1f} times as much as in the cell's "
                "other runs, throughout, and the run is slow: something else used the processor."
            )
            found.flags.append(doubt(run.key, "busy-machine", said, {"roughness": float(rough.odd[i]), "z": float(rough.z[i])}))
    for scene in survey.scenes:
        _find_steps(found, survey, scene, threshold)
    return found


def _find_steps(found: Found, survey: Survey, scene: SceneSurvey, threshold: float) -> None:
    if np.sum(scene.whole) < _LEAST_RUNS or scene.courses.shape[1] < BLOCKS:
        return
    steps = [best_step(_blocks(row)) for row in unlike(scene)]
    root = np.sqrt([max(s.strength, 0.0) for s in steps])  # the best of many stretches is skew; its root is nearly normal
    z = (root - np.median(root[scene.whole])) / spread(root[scene.whole], _LEAST_SPREAD)
    for row, i in enumerate(scene.members):
        step = steps[row]
        if scene.whole[row] and z[row] >= threshold and step.contrast >= _LEAST_STEP:
            run = survey.runs[int(i)]
            at = _seconds(run.cut.counted.ends_s, step, scene.by_frames)
            said = (
                f"From {at[0]:.1f} to {at[1]:.1f} s frames take {change_words(step.contrast)} longer, beside the rest of "
                "the run, than the other runs show there: something else was at work."
            )
            evidence = {"contrast": step.contrast, "share": step.end - step.begin, "z": float(z[row])}
            evidence["beside"], evidence["beside_share"] = _match_beside(scene, row, step)
            found.flags.append(doubt(run.key, "busy-machine", said, evidence, at))


def _match_beside(scene: SceneSurvey, row: int, step: Step) -> tuple[float, float]:
    """How well the run follows its scene before or after the step, whichever is better, and the share of the scene that this
    part is: a load leaves the rest alone. (0, 1) where both parts are too short to tell.
    """
    bins = scene.courses.shape[1]
    shape, other = scene.shapes[row], scene.others[row]
    found = (0.0, 1.0)
    for begin, end in ((0, int(step.begin * bins)), (int(np.ceil(step.end * bins)), bins)):
        if end - begin >= LEAST_BINS and not np.isnan(shape[begin:end]).any():
            found = max(found, (float(match(shape[begin:end], other[begin:end], play(scene))), (end - begin) / bins))
    return found


def unlike(scene: SceneSurvey) -> Floats:
    """Shapes minus what the other runs show there, shape (runs, bins): minus the scene's, then the cell's own way where known."""
    away = scene.shapes - scene.others
    for setup in dict.fromkeys(scene.setups):
        rows: NDArray[np.intp] = np.array([i for i, s in enumerate(scene.setups) if s == setup], dtype=np.intp)
        usable = scene.whole[rows]
        if np.sum(usable) > _ENOUGH_MATES:
            away[rows] -= median_without(away[rows], usable)
    return away


def _blocks(row: Floats) -> Floats:
    """Median of each block of the part of a row that is there."""
    there = row[~np.isnan(row)]
    edges = np.linspace(0, there.size, min(BLOCKS, there.size) + 1).astype(np.intp)
    length = np.diff(edges)
    places = edges[:-1, None] + np.arange(int(length.max()))
    inside = places < edges[1:, None]
    ordered = np.sort(np.where(inside, there[np.minimum(places, there.size - 1)], np.inf), axis=1)
    block = np.arange(length.size)
    return np.asarray((ordered[block, (length - 1) // 2] + ordered[block, length // 2]) / 2)


def best_step(blocks: Floats) -> Step:
    """The contiguous stretch that is slower than the rest by most, weighed with its length. blocks : shape (n,)."""
    n = blocks.size
    begin, end = np.triu_indices(n + 1, 1)
    length = end - begin
    fits = (length >= max(2, n // 12)) & (n - length >= max(2, n // 6))
    if not np.any(fits):
        return Step(0.0, 0.0, 0.0, 0.0)
    begin, end, length = begin[fits], end[fits], length[fits]
    total = np.concatenate([[0.0], np.cumsum(blocks)])
    inside = total[end] - total[begin]
    contrast = inside / length - (total[-1] - inside) / (n - length)
    strength = contrast * np.sqrt(length * (n - length)) / n
    best = int(np.argmax(strength))
    return Step(float(strength[best]), float(contrast[best]), float(begin[best] / n), float(end[best] / n))


def _seconds(ends: Floats, step: Step, by_frames: bool) -> tuple[float, float]:
    if not by_frames:
        return float(step.begin * ends[-1]), float(step.end * ends[-1])
    last = ends.size - 1
    return float(ends[int(step.begin * last)]), float(ends[int(step.end * last)])
