"""Scenes with known truth: how often the band along a scene covers all of it.

python -m evenhand.rehearsal.along prints the table of docs/methods/along-the-scene.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from evenhand.judging.along import band
from evenhand.judging.critical import t_quantile
from evenhand.judging.layout import layout_of
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.rehearsal.count import Share

Floats = npt.NDArray[np.float64]

BINS: Final = 30
SPIKE: Final = 0.3
ROUND_SHIFT: Final = 0.05


@dataclass(frozen=True, slots=True)
class SceneTruth:
    """A kind of scene. setups, visits : numbers. own : spread of a bin's own noise in a visit mean (standard deviation of a
    logarithm); unlike : spread of its logarithm between bins. memory : correlation of neighbouring bins. shift : spread of what a
    visit shares along the scene. tails : degrees of freedom of Student's t, None for normal. spikes : share of bins that lose
    `SPIKE` in one visit. rounds : rounds shift by `ROUND_SHIFT` and are a term.
    """

    setups: int
    visits: int
    own: float
    shift: float = 0.0
    unlike: float = 0.0
    memory: float = 0.3
    tails: float | None = None
    spikes: float = 0.0
    rounds: bool = False


def draw_scenes(truth: SceneTruth, scenes: int, rng: np.random.Generator) -> Floats:
    """(S, B, C, V): visit means of scenes in which all setups are the same."""
    shape = (scenes, BINS, truth.setups, truth.visits)
    if truth.tails is None:
        noise = rng.standard_normal(shape)
    else:
        noise = rng.standard_t(truth.tails, shape) / math.sqrt(truth.tails / (truth.tails - 2))
    noise[:, 1:] *= math.sqrt(1 - truth.memory**2)
    noise = np.asarray(lfilter([1.0], [1.0, -truth.memory], noise, axis=1))
    values = truth.own * np.exp(truth.unlike * rng.standard_normal((scenes, BINS, 1, 1))) * noise
    values = values - SPIKE * (rng.random(shape) < truth.spikes)
    values += truth.shift * rng.standard_normal((scenes, 1, truth.setups, truth.visits))
    return np.asarray(values + truth.rounds * ROUND_SHIFT * rng.standard_normal((scenes, 1, 1, truth.visits)))


def count_scene(truth: SceneTruth, scenes: int, seed: int, confidence: float = 0.95, pointwise: bool = False) -> Share:
    """Share of scenes whose bands cover the truth in every bin of every setup. pointwise : with each bin's own interval."""
    values = draw_scenes(truth, scenes, np.random.default_rng(seed))
    layout = layout_of(np.ones(values.shape[1:], dtype=bool), truth.rounds)
    logs = layout.pick(values)
    if pointwise:
        rows = contrast_weights(
            layout,
            np.tile(np.eye(BINS), (truth.setups - 1, 1)),
            np.repeat(np.eye(truth.setups)[1:] - np.eye(truth.setups)[0], BINS, axis=0),
        )
        found = estimates(layout, visit_noise(layout, logs), logs, rows)
        covers = (np.abs(found.estimate) <= t_quantile(found.df, confidence) * found.se).all(axis=1)
    else:
        whole = band(layout, logs, confidence)
        covers = (np.abs(whole.estimate) <= whole.half).all(axis=(1, 2))
    share = float(covers.mean())
    return Share(share, math.sqrt(max(share * (1 - share), 0.25 / scenes) / scenes))


#: Kinds of noise that are counted, with their names in the table.
NOISES: Final = {
    "alike, normal": SceneTruth(2, 2, 0.02),
    "unlike bins (0.3)": SceneTruth(2, 2, 0.02, unlike=0.3),
    "neighbours correlate 0.6": SceneTruth(2, 2, 0.02, unlike=0.2, memory=0.6),
    "t noise, 3 df": SceneTruth(2, 2, 0.02, unlike=0.2, tails=3.0),
    "spikes of 30 % in 1 % of bins": SceneTruth(2, 2, 0.02, unlike=0.2, spikes=0.01),
}
GRID: Final = tuple(
    replace(noise, setups=setups, visits=visits, shift=shift)
    for setups, visits in ((2, 2), (2, 3), (2, 4), (4, 2), (4, 3), (6, 2))
    for shift in (0.0, 0.01, 0.05)
    for noise in NOISES.values()
)


def table(scenes: int = 2000, seed: int = 5) -> str:
    """The grid as a table of Markdown: one row a kind of study, one column a kind of noise."""
    kinds = tuple(NOISES)
    shares = [f"{100 * count_scene(truth, scenes, seed + i).value:.1f}" for i, truth in enumerate(GRID)]
    lines = [f"| setups | visits | visit shift | {' | '.join(kinds)} |", f"| --- | --- | --- |{' --- |' * len(kinds)}"]
    for row in range(0, len(GRID), len(kinds)):
        first = GRID[row]
        lines.append(f"| {first.setups} | {first.visits} | {first.shift:.0%} | {' | '.join(shares[row : row + len(kinds)])} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
