"""Time to judge 40 titles × 4 setups × 6 runs × 5 measures, as a multiple of polars grouping the same table in the same run.

Bound: under 1 s. The table is judged with and without rounds, with factor effects, per title and over titles. Both are timed in
turn, so that other work on the machine weighs on both alike.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
import polars as pl

from evenhand.judging.judge import judge
from evenhand.judging.model import Design
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.simulate import Truth, rows, simulate

REPEATS = 7
TRUTH = Truth(
    40, 4, 3, 2, run_noise=0.02, visit_shift=0.01, title_shift=0.005, effects=(0, 0.02, 0.05, -0.04), effect_spread=0.02
)
MEASURES = ("average", "low1_percentile", "low1_tail_mean", "low1_time_share", "low01_percentile")


def table() -> pl.DataFrame:
    drawn = [rows(simulate(TRUTH, np.random.default_rng(i)), 0, key) for i, key in enumerate(MEASURES)]
    names = ("title", "setup", "visit", "run", "measure", "value")
    return pl.DataFrame([{n: getattr(row, n) for n in names} for measure in drawn for row in measure])


def design() -> Design:
    levels = {f"s{i + 1}": {"memory": "fast" if i % 2 else "plain", "power": "high" if i > 1 else "low"} for i in range(4)}
    return Design(
        setups=tuple(levels),
        baseline="s1",
        measures=tuple(CATALOGUE[key] for key in MEASURES),
        levels=levels,
        factors={"memory": ("plain", "fast"), "power": ("low", "high")},
    )


def grouped(frame: pl.DataFrame) -> pl.DataFrame:
    value = pl.col("value").log()
    keys = ("measure", "title", "setup")
    return (
        frame.group_by(*keys, "visit")
        .agg(value.mean())
        .group_by(*keys)
        .agg(pl.col("value").mean(), pl.col("value").std().alias("sd"))
    )


def main() -> None:
    frame, wanted = table(), design()
    begin = time.perf_counter()
    judge(frame, wanted)
    first = time.perf_counter() - begin
    ours, theirs = [], []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        grouped(frame)
        theirs.append(time.perf_counter() - begin)
        begin = time.perf_counter()
        judge(frame, wanted)
        ours.append(time.perf_counter() - begin)
    again, plain = statistics.median(ours), statistics.median(theirs)
    print(f"judge 40 × 4 × 6 runs × {len(MEASURES)} measures: {first:.2f} s the first time, {again:.2f} s after (bound 1 s)")
    print(f"polars grouping the same {frame.height} rows: {plain * 1e3:.1f} ms, ratio {again / plain:.0f}")


if __name__ == "__main__":
    main()
