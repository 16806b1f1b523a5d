"""How often the rule for the start of a scene cuts into a natural scene: the table of docs/methods/start-and-stretch.md.

    python benchmarks/start_rule.py [scenes per row]

Every scene is invented: frame times whose logarithm wanders and jitters, opened by a heavier view that ends with a hard cut.
That is the hardest case for the rule; scenes without such an opening are the first two rows.
"""

from __future__ import annotations

import sys

import numpy as np

from evenhand.frames.model import Frames
from evenhand.frames.start import find_start
from evenhand.stats.binomial import clopper_pearson

ROWS = (
    # opening (s), its pace against the rest, jitter, wander per frame
    (0.0, 1.0, 0.05, 0.010),
    (0.0, 1.0, 0.02, 0.003),
    (1.0, 1.6, 0.08, 0.020),
    (1.0, 1.6, 0.05, 0.010),
    (1.0, 1.6, 0.02, 0.005),
    (1.5, 2.0, 0.08, 0.020),
    (1.5, 2.0, 0.05, 0.010),
    (1.5, 2.0, 0.02, 0.005),
    (2.5, 3.0, 0.05, 0.010),
    (2.5, 3.0, 0.02, 0.005),
    (1.5, 2.0, 0.02, 0.000),
    (6.0, 2.0, 0.02, 0.000),
)


def played(rng: np.random.Generator, rate: float, seconds: float, jitter: float, wander: float) -> np.ndarray:
    steps = rng.standard_normal(int(rate * seconds))
    log_ms = np.zeros(steps.size)
    for i in range(1, steps.size):
        log_ms[i] = 0.99 * log_ms[i - 1] + wander * steps[i]
    return 1000 / rate * np.exp(log_ms + jitter * rng.standard_normal(steps.size))


def main(scenes: int) -> None:
    rng = np.random.default_rng(7)
    print("| opening | faster by | jitter | wander | scenes cut | 95 % interval |\n| ---: | ---: | ---: | ---: | ---: | ---: |")
    for seconds, ratio, jitter, wander in ROWS:
        cut = 0
        for _ in range(scenes):
            rate = float(rng.uniform(25, 60))
            ms = np.concatenate((played(rng, rate, seconds, jitter, wander), played(rng, ratio * rate, 20, jitter, wander)))
            cut += find_start(Frames(np.rint(ms * 1e6).astype(np.int64))).frame > 0
        low, high = clopper_pearson(cut, scenes)
        print(
            f"| {seconds:g} s | {ratio:g} × | {100 * jitter:g} % | {100 * wander:g} % | {cut} of {scenes} "
            f"| {100 * low:.1f}–{100 * high:.1f} % |"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
