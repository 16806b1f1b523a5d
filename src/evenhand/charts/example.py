"""A small invented study with its judgement, from which every chart of the catalogue can be shown.

The numbers are made up by hand, with intervals of ± 2 standard errors; they show forms, not results.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from evenhand.charts.model import Floats, PaceTrace, SlowCurve
from evenhand.charts.runs import MarkedRun, RunMark
from evenhand.judging.model import (
    Along,
    Cell,
    Coefficient,
    Comparison,
    Effect,
    Interval,
    Knee,
    LevelPoint,
    LevelStep,
    MeasureJudgement,
    Noise,
    OverTitles,
    Passage,
    Trend,
    Verdict,
)
from evenhand.measures.catalogue import CATALOGUE
from evenhand.study.model import Factor, Level, RunKey, Scene, Setup, Study, Title

NAMES: Final = ("Harbour Lights", "Moss & Ember", "Night Ferry")
SETUPS: Final = (("full", "6400 · 65 W"), ("lean", "6400 · 45 W"), ("slow", "5200 · 65 W"), ("both", "5200 · 45 W"))
#: Average of each title under the baseline, and each setup's change as a log-ratio.
RATES: Final = (114.0, 148.0, 164.0)
CHANGES: Final = ((0.0, 0.002, -0.004, -0.012), (0.0, 0.013, -0.031, -0.124), (0.0, 0.004, -0.038, -0.042))

STUDY: Final = Study(
    question="Which memory and power limit suit the small living-room PC?",
    baseline="full",
    setups=tuple(Setup(name, label, {"memory": label.split()[0], "power": label.split()[-2]}) for name, label in SETUPS),
    titles=tuple(Title(n.lower().replace(" & ", "-").replace(" ", "-"), n, (Scene("walk", "market walk", 60.0),)) for n in NAMES),
    factors=(
        Factor("memory", "memory", (Level("5200", "5200 MT/s", 5200.0), Level("6400", "6400 MT/s", 6400.0))),
        Factor("power", "power limit", (Level("45", "45 W", 45.0), Level("65", "65 W", 65.0))),
    ),
)


#: Setup -> title -> what it loses against its best setup, as a logarithm.
REGRETS: Final = {
    s.name: {t.name: max(row) - row[k] for t, row in zip(STUDY.titles, CHANGES, strict=True)} for k, s in enumerate(STUDY.setups)
}


def judged(key: str, share: float, se: float) -> MeasureJudgement:
    """The example's judgement of one measure: `share` of the average's level, standard error `se` of a contrast."""
    measure = CATALOGUE[key]
    margin = math.log1p(measure.margin)
    cells, comparisons = [], []
    for title, rate, changes in zip(STUDY.titles, RATES, CHANGES, strict=True):
        for k, (setup, change) in enumerate(zip(STUDY.setups, changes, strict=True)):
            value = share * rate * math.exp(change * (1.0 if share == 1.0 else 1.3))
            ends = (value * math.exp(-1.4 * se), value * math.exp(1.4 * se))
            cells.append(Cell(key, title.name, setup.name, value, *ends, 4, 8, (value,) * 4, (2,) * 4))
            if k:
                comparisons.append(_comparison(key, title.name, setup.name, changes[k], se, margin))
    over = tuple(_over(key, s.name, [row[k] for row in CHANGES], se / 1.5, margin) for k, s in enumerate(STUDY.setups) if k)
    effects = tuple(e for t, row in zip(STUDY.titles, CHANGES, strict=True) for e in _effects(key, t.name, row, se, margin))
    noise = Noise(key, se, 9.0, {}, {}, {}, math.inf, se, 48.0)
    return MeasureJudgement(measure, margin, tuple(cells), tuple(comparisons), over, effects, noise, True)


def _around(middle: float, half: float) -> Interval:
    return Interval(middle - half, middle + half, 0.95)


def _spoken(interval: Interval, margin: float) -> Verdict:
    """Enough of a verdict for pictures, which do not show it."""
    return Verdict.LEVEL if -margin < interval.low and interval.high < margin else Verdict.OPEN


def _comparison(key: str, title: str, setup: str, change: float, se: float, margin: float) -> Comparison:
    wide, inner = _around(change, 2.6 * se), _around(change, 1.7 * se)
    return Comparison(
        key, title, setup, "full", change, se, 12.0, wide, _around(change, 2 * se), inner, margin, _spoken(inner, margin)
    )


def _over(key: str, setup: str, changes: Sequence[float], se: float, margin: float) -> OverTitles:
    mean, spread = float(np.mean(changes)), float(np.std(changes, ddof=1))
    like = math.hypot(se, spread / math.sqrt(len(changes)))
    these, inner = _around(mean, 2.4 * se), _around(mean, 1.7 * se)
    far = _around(mean, 3 * math.hypot(like, spread))
    return OverTitles(key, setup, "full", mean, se, 9.0, these, inner, like, 4.0, _around(mean, 2.5 * like), spread, far, margin,
                      _spoken(inner, margin), len(changes), 0, 0, 0, 0, 0)  # fmt: skip


def _effects(key: str, title: str, change: Sequence[float], se: float, margin: float) -> list[Effect]:
    full, lean, slow, both = change
    found = (
        (("memory",), (("6400", "5200"),), ((full - slow) + (lean - both)) / 2, 0.7 * se),
        (("power",), (("65", "45"),), ((full - lean) + (slow - both)) / 2, 0.7 * se),
        (("memory", "power"), (("6400", "5200"), ("65", "45")), (full - slow) - (lean - both), 1.4 * se),
    )
    return [
        Effect(
            key,
            title,
            factors,
            levels,
            value,
            own,
            12.0,
            _around(value, 2 * own),
            margin,
            _spoken(_around(value, 2 * own), margin),
        )
        for factors, levels, value, own in found
    ]


def speeds() -> tuple[Study, MeasureJudgement]:
    """A study along five memory speeds, of which the upper ones bring little more."""
    values = (4800.0, 5200.0, 5600.0, 6000.0, 6400.0)
    levels = tuple(Level(f"{v:.0f}", f"{v:.0f} MT/s", v) for v in values)
    setups = tuple(Setup(level.name, level.label, {"memory": level.name}) for level in levels)
    study = Study(STUDY.question, "4800", setups, STUDY.titles, factors=(Factor("memory", "memory speed", levels),))
    gains = ((0.0, 0.012, 0.021, 0.024, 0.023), (0.0, 0.031, 0.058, 0.069, 0.073), (0.0, 0.024, 0.049, 0.055, 0.053))
    average = judged("average", 1.0, 0.011)
    own = [_trend(levels, t.name, row, 0.008) for t, row in zip(STUDY.titles, gains, strict=True)]
    own.append(_trend(levels, None, np.mean(gains, axis=0).tolist(), 0.006))
    return study, replace(average, trends=tuple(own))


def _trend(levels: Sequence[Level], title: str | None, gains: Sequence[float], se: float) -> Trend:
    names = [level.name for level in levels]
    points = tuple(
        LevelPoint(n, level.value or 0.0, g, g, g - 2.8 * se * (g > 0), g + 2.8 * se * (g > 0))
        for n, level, g in zip(names, levels, gains, strict=True)
    )
    steps = tuple(
        LevelStep(a, b, h - g, se, 12.0, _around(h - g, 2.8 * se), Verdict.AHEAD)
        for (a, g), (b, h) in pairwise(zip(names, gains, strict=True))
    )
    slope, bend = Coefficient(4e-5, 5e-6, 12.0, _around(4e-5, 1.4e-5)), Coefficient(0.02, 0.004, 12.0, _around(0.02, 0.011))
    return Trend("average", title, "memory", "4800", points, steps, 1, slope, None, bend, Knee("5600", "5600"), math.log(1.03))


def along(bins: int = 30) -> tuple[Along, ...]:
    """Differences along one scene: one setup falls behind in the middle, one is behind throughout."""
    edges = np.linspace(0.0, 60.0, bins + 1)
    at = (edges[1:] + edges[:-1]) / 2
    found = []
    for k, setup in enumerate(STUDY.setups[1:], start=1):
        noise = np.random.default_rng(k).normal(0, 0.004, bins)
        middle = CHANGES[1][k] * (1.0 if k == 3 else 0.3) - (0.06 if k == 2 else 0.0) * ((at > 20) & (at < 34)) + noise
        half = np.full(bins, 0.028)
        told = passages(edges.tolist(), middle, middle - half, middle + half)
        found.append(
            Along(
                "moss-ember",
                "walk",
                setup.name,
                "full",
                "seconds",
                tuple(edges.tolist()),
                tuple(middle.tolist()),
                tuple((middle - half).tolist()),
                tuple((middle + half).tolist()),
                math.log(1.03),
                0.95,
                (4, 4),
                told,
            )
        )
    return tuple(found)


def passages(edges: Sequence[float], middle: Floats, low: Floats, high: Floats) -> tuple[Passage, ...]:
    """Neighbouring bins that are clear of 0."""
    side = np.where(low > 0, 1, np.where(high < 0, -1, 0))
    turns = [0, *(np.flatnonzero(np.diff(side)) + 1).tolist(), side.size]
    return tuple(
        Passage(
            edges[a],
            edges[b],
            float(middle[a:b].mean()),
            float(low[a:b].mean()),
            float(high[a:b].mean()),
            Verdict.AHEAD if side[a] > 0 else Verdict.BEHIND,
        )
        for a, b in pairwise(turns)
        if side[a]
    )


def traces(bins: int = 300) -> tuple[PaceTrace, ...]:
    """Pace over one scene: a slow stretch in the middle, a few stalls."""
    at = (np.arange(bins) + 0.5) * 60 / bins
    found = []
    for k, setup in enumerate(STUDY.setups):
        noise = np.random.default_rng(k)
        rate = 150 * math.exp(CHANGES[1][k]) * (1 + 0.15 * np.sin(at / 7) + 0.04 * np.sin(at * 1.7)) + noise.normal(0, 2, bins)
        slowest = rate * (0.93 - 0.06 * noise.random(bins))
        slowest[noise.integers(0, bins, 3)] *= 0.35
        found.append(PaceTrace(setup.name, at, rate, slowest, "seconds", 8))
    return tuple(found)


def curves() -> tuple[SlowCurve, ...]:
    """Frame times that rise towards the rare ones."""
    share = np.geomspace(1e-4, 1, 80)
    return tuple(
        SlowCurve(s.name, share, 6.4 * math.exp(-CHANGES[1][k]) * share ** -(0.07 + 0.01 * k), 8)
        for k, s in enumerate(STUDY.setups)
    )


def runs() -> tuple[MarkedRun, ...]:
    """Four visits of two runs, some of them dropped or doubtful."""
    odd = {3: RunMark.DOUBTFUL, 21: RunMark.SET_ASIDE, 50: RunMark.REDO}
    keys = [
        RunKey(t.name, "walk", s.name, v, r) for t in STUDY.titles for s in STUDY.setups for v in (1, 2, 3, 4) for r in (1, 2)
    ]
    return tuple(MarkedRun(k, odd.get(i, RunMark.KEPT)) for i, k in enumerate(keys))
