"""Time to judge 40 titles × 4 setups × 6 runs × 5 measures, as a multiple of polars grouping the same table in the same run.

Bounds: the judgement under 1 s; with everything that rests on it (response groups, definitions of the low, the recommendation,
what hangs on which titles) under 2 s. The table is judged with and without rounds, with factor effects, per title and over
titles. All are timed in turn, so that other work on the machine weighs on all alike.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
import polars as pl

from evenhand.judging.advice.dependence import title_dependence
from evenhand.judging.advice.model import Preferences
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.definitions import low_definitions
from evenhand.judging.groups import response_groups
from evenhand.judging.judge import judge
from evenhand.judging.model import Design
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.simulate import Truth, rows, simulate

REPEATS = 7
TRUTH = Truth(
    40, 4, 3, 2, run_noise=0.02, visit_shift=0.01, title_shift=0.005, effects=(0, 0.02, 0.05, -0.04), effect_spread=0.02
)
MEASURES = ("average", "low1_percentile", "low1_tail_mean", "low1_time_share", "low01_percentile")
LEADING = ("average", "low1_percentile")
PREFERENCES = Preferences(dict.fromkeys(LEADING, 1.0))


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


def everything(frame: pl.DataFrame, wanted: Design) -> dict[str, float]:
    """Seconds of each part of a judgement with all that rests on it."""
    marks = [time.perf_counter()]
    judgement = judge(frame, wanted)
    marks.append(time.perf_counter())
    groups = response_groups(judgement, *LEADING)
    low_definitions(judgement)
    marks.append(time.perf_counter())
    advice = recommend(judgement, PREFERENCES)
    marks.append(time.perf_counter())
    led = frame.filter(pl.col("measure").is_in(LEADING))
    title_dependence(led, judgement, LEADING, (advice, PREFERENCES) if advice else None, groups)
    marks.append(time.perf_counter())
    names = ("judge", "groups, definitions", "recommendation", "dependence on titles")
    return dict(zip(names, np.diff(marks).tolist(), strict=True))


def main() -> None:
    frame, wanted = table(), design()
    first = sum(everything(frame, wanted).values())
    parts: list[dict[str, float]] = []
    theirs = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        grouped(frame)
        theirs.append(time.perf_counter() - begin)
        parts.append(everything(frame, wanted))
    plain = statistics.median(theirs)
    again = {name: statistics.median(p[name] for p in parts) for name in parts[0]}
    whole = statistics.median(sum(p.values()) for p in parts)
    size = f"40 × 4 × 6 runs × {len(MEASURES)} measures"
    print(f"judge {size}: {again['judge']:.2f} s (bound 1 s), ratio {again['judge'] / plain:.0f}")
    print(f"with everything: {first:.2f} s the first time, {whole:.2f} s after (bound 2 s), ratio {whole / plain:.0f}")
    print("of that " + ", ".join(f"{name} {seconds:.2f} s" for name, seconds in again.items()))
    print(f"polars grouping the same {frame.height} rows: {plain * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
