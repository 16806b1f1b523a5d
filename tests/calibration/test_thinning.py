"""A choice of titles against random ones, on studies with known truth: how far the titles kept are from what is true of all.

The table in docs/methods/thinning.md: `python tests/calibration/test_thinning.py` counts it anew.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenhand.judging.advice.choosing import best_choice, random_choices, worth_of
from evenhand.judging.advice.subsets import field_of
from evenhand.judging.analysis import analyse
from evenhand.judging.model import Design, Row
from evenhand.judging.pairs import pairs_of
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.catalogue import CATALOGUE

AVERAGE = CATALOGUE["average"]
DESIGN = Design(("A", "B", "C"), "A", (AVERAGE,))
CELLS = [(12, 4), (12, 6), (40, 4), (40, 8), (40, 12)]
NOISES = (0.005, 0.02, 0.05)


def study(rng: np.random.Generator, titles: int, noise: float) -> tuple[list[Row], np.ndarray]:
    """(rows, true effects (T, C)): most titles hardly care; a fifth lose up to 14 % under B, a third gain 8 % under C."""
    effects = rng.normal(0, 0.006, (titles, 3)) * [0, 1, 1]
    effects[:, 1] -= (rng.random(titles) < 0.2) * 0.15 * rng.random(titles)
    effects[:, 2] += (rng.random(titles) < 0.33) * 0.08
    shift = rng.normal(0, 0.005, (3, 3))
    rows = [
        Row(f"t{t:02}", "ABC"[c], v + 1, 1, "average", 100 * math.exp(effects[t, c] + shift[c, v] + rng.normal(0, noise)))
        for t in range(titles)
        for c in range(3)
        for v in range(3)
    ]
    return rows, effects


def errors(titles: int, keep: int, noise: float, studies: int) -> tuple[float, float]:
    """Root mean square distance, in margins, of the true contrasts of the titles kept from those of all: (chosen, random)."""
    rng = np.random.default_rng([titles, keep, round(1000 * noise)])
    chosen, random = [], []
    for _ in range(studies):
        rows, effects = study(rng, titles, noise)
        visits = visit_means(read_runs(rows, DESIGN), AVERAGE, DESIGN)
        field = field_of(analyse(visits, DESIGN, rounds=True))
        true = np.array([effects[:, a] - effects[:, b] for a, b in pairs_of(DESIGN)]).T / field.unit
        worth = worth_of((field,), (field,), np.zeros((titles, 0), dtype=bool))
        every = np.ones(titles, dtype=bool)
        own = best_choice(worth, keep, every, 0)[0]
        chosen.append(_missed(true, own[None]))
        random.append(_missed(true, random_choices(rng, 100, keep, every)))
    return math.sqrt(float(np.mean(chosen))), math.sqrt(float(np.mean(random)))


def _missed(true: np.ndarray, kept: np.ndarray) -> float:
    return float(((kept @ true / kept.sum(axis=1, keepdims=True) - true.mean(axis=0)) ** 2).mean())


@pytest.mark.parametrize(("titles", "keep", "noise", "least"), [(12, 4, 0.005, 3.0), (40, 8, 0.02, 2.0), (40, 8, 0.05, 1.2)])
def test_a_choice_is_nearer_to_all_titles_than_random_ones(titles: int, keep: int, noise: float, least: float) -> None:
    chosen, random = errors(titles, keep, noise, 12)
    assert random / chosen > least


if __name__ == "__main__":
    for size in CELLS:
        told = [errors(*size, noise, 200) for noise in NOISES]
        print(f"| {size[0]} | {size[1]} | {told[0][1]:.2f} | {' | '.join(f'{c:.2f}' for c, _ in told)} |", flush=True)
