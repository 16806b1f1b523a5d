"""How often intervals hold the truth of the invented study, from frames on, over 25 seeds.

Visits shift all titles together, so misses come in swarms (some seeds miss a third of the contrasts, most none): the bounds are
three standard errors of the mean over *seeds*, not over contrasts.
"""

from __future__ import annotations

from statistics import fmean, stdev

import numpy as np
import pytest

from evenhand.examples.invented import invented_frames, invented_study, invented_truth, keys
from evenhand.frames.start import find_start
from evenhand.judging.judge import judge
from evenhand.judging.model import Design
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.compute import measure_run

SEEDS = 25
STUDY = invented_study()
TRUTH = invented_truth()
#: A cap makes the truth of a title's lows depend on the shifts; its average is the cap.
CAPPED = {t.name for t in STUDY.titles if t.scenes[0].cap is not None}
EFFECTS = {"average": TRUTH.average, "low1_percentile": TRUTH.low}
#: How far a low may lie from its stated effect: a percentile of 3,000 frames moves in steps of about this size.
GRAIN = {"average": 0.0, "low1_percentile": 0.004}
DESIGN = Design(tuple(s.name for s in STUDY.setups), STUDY.baseline, tuple(CATALOGUE[key] for key in EFFECTS))


def missed(seed: int) -> dict[str, tuple[float, float]]:
    """Measure -> share of pointwise intervals that miss the truth, share of titles where any simultaneous one does."""
    table = []
    for key in keys():
        if key in TRUTH.spoiled or key.title in CAPPED or (key.title in TRUTH.warm_up and key.run == 1):
            continue
        frames = invented_frames(key, seed)
        values = measure_run(frames.cut(find_start(frames).frame, len(frames))).values
        table += [
            {"title": key.title, "setup": key.setup, "visit": key.visit, "run": key.run, "measure": m, "value": values[m]}
            for m in EFFECTS
        ]
    shares = {}
    for measure, judged in judge(table, DESIGN).measures.items():
        pointwise, titles = [], set()
        for c in judged.comparisons:
            truth = EFFECTS[measure][c.title][c.setup] - EFFECTS[measure][c.title][c.against]
            grain = GRAIN[measure]
            pointwise.append(not c.pointwise.low - grain <= truth <= c.pointwise.high + grain)
            if not c.simultaneous.low - grain <= truth <= c.simultaneous.high + grain:
                titles.add(c.title)
        shares[measure] = (fmean(pointwise), len(titles) / len({c.title for c in judged.comparisons}))
    return shares


@pytest.mark.slow
def test_intervals_miss_as_often_as_they_say() -> None:
    found = [missed(seed) for seed in range(1, SEEDS + 1)]
    for measure in EFFECTS:
        for kind in (0, 1):
            shares = [seed[measure][kind] for seed in found]
            error = stdev(shares) / np.sqrt(SEEDS)
            assert fmean(shares) <= 0.05 + 3 * error, (measure, kind, fmean(shares), error)
            assert max(shares) > 0, "intervals that never miss are too wide to be tested by this"
