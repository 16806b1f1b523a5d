"""From runs to visit means: runs are averaged within a visit, scenes within their title, on the measure's own scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.model import Design
from evenhand.judging.table import Runs
from evenhand.measures.model import Measure, Scale
from evenhand.wording import counted, listed

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Visits:
    """Visit means of one measure on its scale.

    means : (T, C, V), NaN where there is none. runs : (T, C, V), how many runs (of all scenes) are in each.
    run_variance, run_df : within visits, pooled over all cells. notes : what was left out or filled in.
    """

    measure: Measure
    titles: tuple[str, ...]
    means: Floats
    runs: Ints
    run_variance: float | None
    run_df: float
    notes: tuple[str, ...]


def visit_means(runs: Runs, measure: Measure, design: Design) -> Visits:
    """The visit means of a measure; all of it NaN where the table has no value of it."""
    code = runs.measures.index(measure.key) if measure.key in runs.measures else -1
    mine = runs.measure == code
    scaled, usable = _on_scale(runs.value, measure)
    notes = _left_out(mine & ~usable, runs, measure)
    rows = np.flatnonzero(mine & usable)
    shape = (len(runs.scenes), len(design.setups), len(runs.visits))
    place = np.ravel_multi_index((runs.scene[rows], runs.setup[rows], runs.visit[rows]), shape)
    size = int(np.prod(shape))
    count = np.bincount(place, minlength=size)
    total = np.bincount(place, scaled[rows], minlength=size)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    squares = float(((scaled[rows] - mean[place]) ** 2).sum())
    df = float((count[count > 0] - 1).sum())
    owner = np.array([title for title, _ in runs.scenes], dtype=np.intp)
    means, scene_notes = _titles_of_scenes(mean.reshape(shape), owner, runs, measure, design)
    in_title = np.zeros((len(runs.titles), *shape[1:]), dtype=np.intp)
    np.add.at(in_title, owner, count.reshape(shape))
    in_title = np.where(np.isnan(means), 0, in_title)
    return Visits(measure, runs.titles, means, in_title, squares / df if df > 0 else None, df, (*notes, *scene_notes))


def _on_scale(values: Floats, measure: Measure) -> tuple[Floats, npt.NDArray[np.bool_]]:
    if measure.scale is Scale.LOG:
        usable = np.isfinite(values) & (values > 0)
        return np.log(np.where(usable, values, 1.0)), usable
    return values, np.isfinite(values)


def _left_out(lost: npt.NDArray[np.bool_], runs: Runs, measure: Measure) -> tuple[str, ...]:
    if not lost.any():
        return ()
    titles = listed([runs.titles[i] for i in np.unique(runs.title[lost])])
    why = "are not numbers above 0 and have no logarithm" if measure.scale is Scale.LOG else "are not finite numbers"
    return (f"{measure.label}: {counted(int(lost.sum()), 'value')} of {titles} left out, as they {why}.",)


def _titles_of_scenes(
    scenes: Floats, owner: Ints, runs: Runs, measure: Measure, design: Design
) -> tuple[Floats, tuple[str, ...]]:
    """Means over each title's scenes, (T, C, V)."""
    means = np.full((len(runs.titles), *scenes.shape[1:]), np.nan)
    notes: list[str] = []
    for t, title in enumerate(runs.titles):
        mine = np.flatnonzero(owner == t)
        if mine.size == 1:
            means[t] = scenes[mine[0]]
            continue
        has = np.asarray(~np.isnan(scenes[mine]).all(axis=2))
        kept = _comparable(has)
        dropped = [runs.scenes[mine[i]][1] for i in np.flatnonzero(~kept & has.any(axis=1))]
        if dropped:
            notes.append(
                f"{measure.label}, {title}: {listed(dropped)} left out, not recorded under every setup that the title has."
            )
        filled = [_mean_over_scenes(scenes[mine[kept], c]) for c in range(len(design.setups))]
        means[t] = [values for values, _ in filled]
        gaps = sum(gap for _, gap in filled)
        if gaps:
            notes.append(
                f"{measure.label}, {title}: {counted(gaps, 'visit')} without one of the scenes; it was filled in from the same "
                "setup's other visits."
            )
    return means, tuple(notes)


def _comparable(has: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Which scenes (S, C) count: those with every setup that any has; where none is so, the first with the most setups."""
    needed = has.any(axis=0)
    full = np.asarray((has == needed).all(axis=1))
    if full.any():
        return full
    return np.asarray(np.arange(has.shape[0]) == int(np.argmax(has.sum(axis=1))))


def _mean_over_scenes(values: Floats) -> tuple[Floats, int]:
    """(visit means (V,), visits filled in) of one setup's scenes (S, V).

    A visit that lacks a scene gets it from an additive fit, scene + visit, so that a slow scene that is missing does not pass for
    a fast visit.
    """
    there = ~np.isnan(values)
    visited = there.any(axis=0)
    gaps = int((visited & ~there.all(axis=0)).sum())
    if gaps:
        scene, visit = np.nonzero(there)
        design = np.concatenate(
            [np.equal.outer(scene, np.arange(there.shape[0])), np.equal.outer(visit, np.arange(there.shape[1]))], 1
        )
        part = np.linalg.lstsq(design.astype(np.float64), values[there], rcond=None)[0]
        fitted = part[: there.shape[0], None] + part[None, there.shape[0] :]
        values = np.where(there, values, np.where(visited, fitted, np.nan))
    return np.asarray(values.mean(axis=0)), gaps
