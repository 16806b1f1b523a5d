"""Simulated studies whose best setup is known: what partial pooling, chances and the recommendation are counted on.

`python tests/calibration/advice_studies.py 1000` prints the tables of docs/methods/partial-pooling.md and chance-of-best.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.judging.advice.draws import draw
from evenhand.judging.advice.pooling import pooled
from evenhand.judging.analysis import analyse
from evenhand.judging.model import Design
from evenhand.judging.visits import Visits
from evenhand.measures.model import Better, Measure, Scale
from evenhand.stats.meta import random_effects

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
DRAWS = 400
#: Ends of the classes in which stated chances are gathered.
ENDS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97, 1.0001)


@dataclass(frozen=True)
class Kind:
    """Spreads are standard deviations of logarithms. apart : of the setups' means; titles : of a title's effect around them;
    collapse : chance that a title loses 10 to 30 % under a setup.
    """

    titles: int
    setups: int
    visits: int
    noise: float
    shift: float
    apart: float
    spread: float
    collapse: float = 0.0

    def draw(self, rng):
        """(true effects (T, C), visit means (T, C, V))."""
        effects = self.apart * rng.standard_normal(self.setups) + self.spread * rng.standard_normal((self.titles, self.setups))
        effects -= (rng.random(effects.shape) < self.collapse) * rng.uniform(0.1, 0.3, effects.shape)
        shared = self.shift * rng.standard_normal((1, self.setups, self.visits))
        return effects, effects[..., None] + shared + self.noise * rng.standard_normal((*effects.shape, self.visits))


KINDS = {
    "12 titles, setups well apart": Kind(12, 4, 3, 0.02, 0.01, 0.03, 0.01),
    "12 titles, some collapse": Kind(12, 4, 3, 0.02, 0.01, 0.03, 0.004, 0.05),
    "40 titles, some collapse": Kind(40, 4, 2, 0.02, 0.02, 0.03, 0.004, 0.05),
    "4 titles, 2 visits": Kind(4, 3, 2, 0.02, 0.02, 0.05, 0.01),
}
OUTSIDE = {"12 titles, setups nearly alike": Kind(12, 4, 3, 0.02, 0.01, 0.003, 0.01)}


def pooled_studies(kind, studies, seed):
    """(true effects (S, T, C), pooled cells of each study)."""
    rng = np.random.default_rng(seed)
    design = Design(tuple("ABCDEF"[: kind.setups]), "A", (RATE,))
    names = tuple(f"title {t}" for t in range(kind.titles))
    drawn = [kind.draw(rng) for _ in range(studies)]
    visits = [Visits(RATE, names, means, np.ones(means.shape, dtype=int), None, 0.0, ()) for _, means in drawn]
    return np.stack([effects for effects, _ in drawn]), pooled([analyse(v, design, False) for v in visits])


def chances(kind, studies, seed=1):
    """(stated (S, C), is best (S, C)) over titles."""
    effects, cells = pooled_studies(kind, studies, seed)
    named = np.stack([draw(found, DRAWS, i).mean(axis=1).argmax(axis=1) for i, found in enumerate(cells)])
    stated = np.stack([(named == c).mean(axis=1) for c in range(kind.setups)], axis=1)
    return stated, effects.mean(axis=1).argmax(axis=1)[:, None] == np.arange(kind.setups)


def classes(stated, best):
    """(mean stated, share that is best, how many) of each class of stated chances."""
    found = []
    for low, high in pairwise(ENDS):
        mine = (stated >= low) & (stated < high)
        found.append((float(stated[mine].mean()), float(best[mine].mean()), int(mine.sum())) if mine.any() else (0.0, 0.0, 0))
    return found


def pooling(kind, studies, seed=1):
    """Contrasts to the baseline at titles: rmse raw, by normal pooling of each contrast, by ours; coverage of draws."""
    effects, cells = pooled_studies(kind, studies, seed)
    true = effects[:, :, 1:] - effects[:, :, :1]
    raw, ours = (np.stack([getattr(c, name)[:, 1:] for c in cells]) for name in ("raw", "estimate"))
    normal = np.empty_like(raw)
    own = 2 * kind.noise**2 / kind.visits
    for s in range(studies):
        for c in range(kind.setups - 1):
            found = random_effects(raw[s, :, c], np.full(kind.titles, own))
            keep = found.tau2 / (found.tau2 + own)
            normal[s, :, c] = keep * raw[s, :, c] + (1 - keep) * found.estimate
    hits = []
    for s, found in enumerate(cells):
        low, high = np.quantile(draw(found, DRAWS, s)[:, :, 1:], [0.025, 0.975], axis=0)
        hits.append((low <= true[s]) & (true[s] <= high))
    errors = [float(np.sqrt(np.mean((values - true) ** 2))) for values in (raw, normal, ours)]
    return (*errors, float(np.mean(hits)))


def tables(studies):
    """The tables of the methods pages, as Markdown."""
    lines = ["| studies | rmse raw | normal pooling | here | 95 % of draws cover |", "| --- | --- | --- | --- | --- |"]
    for name, kind in (KINDS | OUTSIDE).items():
        raw, normal, ours, cover = pooling(kind, studies)
        lines.append(f"| {name} | {raw:.4f} | {normal:.4f} | {ours:.4f} | {cover:.1%} |".replace("%", " %"))
    heads = " | ".join(f"{low:.0%} to {min(high, 1):.0%}".replace("%", " %") for low, high in pairwise(ENDS))
    lines += ["", f"| studies | {heads} |", f"| --- |{' --- |' * (len(ENDS) - 1)}"]
    for name, kind in (KINDS | OUTSIDE).items():
        cells = [f"{share:.0%} of {count}".replace("%", " %") for _, share, count in classes(*chances(kind, studies))]
        lines.append(f"| {name} | {' | '.join(cells)} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(tables(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
