"""A study, its judgement and all else that a report needs, made of plain nouns with a fixed seed: no frames, no folder."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.charts.model import PaceTrace, SlowCurve
from evenhand.frames.model import Stretch
from evenhand.judging.advice.model import Preferences
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.best import constrained
from evenhand.judging.counts import title_counts
from evenhand.judging.groups import response_groups
from evenhand.judging.model import (
    AgainstBest,
    Cell,
    Comparison,
    Design,
    Effect,
    Interval,
    Judgement,
    MeasureJudgement,
    Noise,
    OverTitles,
    Verdict,
)
from evenhand.measures.model import Better, Measure, Scale
from evenhand.screening.model import Flag, Screening, Standing, Weight
from evenhand.study.model import Factor, Level, Protocol, RunKey, Scene, Setup, Study, Title
from evenhand.writeup.material import Material, RunEntry

AVERAGE = Measure(
    "average", "Average frame rate", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "Frames over time.", "common practice"
)
LOW = Measure(
    "low1_percentile",
    "1 % low (percentile)",
    "frames a second",
    Better.HIGHER,
    Scale.LOG,
    0.05,
    "Rate at the 99th percentile of frame times.",
    "common practice",
    0.01,
    "percentile",
)
HITCHES = Measure(
    "hitches", "Hitches", "per minute", Better.LOWER, Scale.DIFFERENCE, 1.0, "Frames that stand out.", "common practice"
)

TITLES = (
    "Harbour Lights",
    "Ironvale",
    "Moss & Ember",
    "Night Ferry",
    "Paper Armada",
    "Quiet Orbit",
    "Saltmarsh Rally",
    "Tin Cathedral",
    "Under Glass",
    "Velvet Signal",
    "Winter Orchard",
    "Yonder Keep",
)
SETUPS = (
    ("fast-65", "6400 · 65 W", "6400", "65"),
    ("fast-45", "6400 · 45 W", "6400", "45"),
    ("slow-65", "5200 · 65 W", "5200", "65"),
    ("slow-45", "5200 · 45 W", "5200", "45"),
)


def study(titles: Sequence[str] = TITLES) -> Study:
    return Study(
        question="Which memory and power limit suit the small living-room PC?",
        baseline="fast-65",
        setups=tuple(Setup(n, label, {"memory": m, "power": p}) for n, label, m, p in SETUPS),
        titles=tuple(Title(key(t), t, (Scene(key(t), "market walk", 60.0),)) for t in titles),
        factors=(
            Factor("memory", "memory", (Level("5200", "5200 MT/s", 5200), Level("6400", "6400 MT/s", 6400))),
            Factor("power", "power limit", (Level("45", "45 W", 45), Level("65", "65 W", 65))),
        ),
        margins={"average": 0.03, "low1_percentile": 0.05},
        protocol=Protocol(visits=4, runs=2),
    )


def key(label: str) -> str:
    return "-".join("".join(c if c.isalnum() else " " for c in label.lower()).split())


@dataclass(frozen=True)
class Part:
    measure: Measure
    level: float
    noise: float


def judged(of: Study, seed: int = 7, visits: int = 4, one_visit: bool = False) -> Judgement:
    rng = np.random.default_rng(seed)
    parts = (Part(AVERAGE, 1.0, 0.008), Part(LOW, 0.66, 0.02), Part(HITCHES, 4.0, 0.4))
    measures = (AVERAGE, LOW, HITCHES)
    design = Design(
        tuple(s.name for s in of.setups),
        of.baseline,
        measures,
        {s.name: s.levels for s in of.setups},
        {f.name: tuple(level.name for level in f.levels) for f in of.factors},
    )
    found = {p.measure.key: _measure(of, p, rng, visits, one_visit) for p in parts}
    return Judgement(
        design, found, None, tuple(t.name for t in of.titles), visits, len(of.titles) * len(of.setups) * visits * 2, one_visit
    )


def _measure(of: Study, part: Part, rng: np.random.Generator, visits: int, one_visit: bool) -> MeasureJudgement:
    log = part.measure.scale is Scale.LOG
    cells, comparisons, effects = [], [], []
    gains = np.zeros((len(of.titles), len(of.setups)))
    se = part.noise * math.sqrt(2 / visits)
    margin = math.log1p(part.measure.margin) if log else part.measure.margin
    for i, title in enumerate(of.titles):
        base = part.level * (90 + 110 * np.random.default_rng([11, i]).random()) if log else part.level
        hit = np.random.default_rng([11, i, 1]).choice([0.0, 0.01, 0.05, 0.14], p=[0.4, 0.2, 0.2, 0.2])
        steps = np.array([0.0, 0.002, -hit * 0.4, -hit]) * (1 if log else -20) + rng.normal(0, se / 2, 4)
        gains[i] = steps - steps[0]
        for s, step in zip(of.setups, steps, strict=True):
            value = base * math.exp(step) if log else base + step
            half = 2.2 * part.noise / math.sqrt(visits)
            low, high = (value * math.exp(-half), value * math.exp(half)) if log else (value - half, value + half)
            cells.append(
                Cell(part.measure.key, title.name, s.name, value, low, high, visits, 2 * visits, (value,) * visits, (2,) * visits)
            )
        for a in range(1, len(of.setups)):
            for b in range(a):
                estimate = float(steps[a] - steps[b])
                sim, inner = _around(estimate, 2.8 * se, 0.95), _around(estimate, 1.75 * se, 0.9)
                verdict = Verdict.UNTOLD if one_visit else _verdict(sim, inner, margin, part.measure.better)
                comparisons.append(
                    Comparison(
                        part.measure.key,
                        title.name,
                        of.setups[a].name,
                        of.setups[b].name,
                        estimate,
                        se,
                        12.0,
                        sim,
                        _around(estimate, 2.1 * se, 0.95),
                        inner,
                        margin,
                        verdict,
                        0.014 if one_visit else None,
                        2 if verdict is Verdict.OPEN else None,
                    )
                )
        effects += _effects(part, title.name, gains[i], se, margin)
    over = tuple(_over(of, part, gains, k, se, margin, comparisons, one_visit) for k in range(1, len(of.setups)))
    names = {t.name: part.noise for t in of.titles}
    noise = Noise(part.measure.key, part.noise / 2, 9.0, names, dict.fromkeys(names, 9.0), names, 20.0, part.noise, 90.0)
    effects += _effects(part, None, gains.mean(axis=0), se / math.sqrt(len(of.titles)), margin)
    counts = title_counts(comparisons, part.measure, Design(tuple(s.name for s in of.setups), of.baseline, (part.measure,)))
    places = [*((t.name, g) for t, g in zip(of.titles, gains, strict=True)), (None, gains.mean(axis=0))]
    best = (
        [b for name, gain in places for b in _best(of, part, name, gain, se)]
        if not one_visit and part.measure.better is Better.HIGHER
        else []
    )
    return MeasureJudgement(
        part.measure, margin, tuple(cells), tuple(comparisons), over, tuple(effects), noise, True, tuple(best), counts
    )


def _best(of: Study, part: Part, title: str | None, gain: np.ndarray, se: float) -> list[AgainstBest]:
    low, high, may = constrained(gain[:, None] - gain[None, :], np.full((4, 4), 2.2 * se))
    names = [s.name for s in of.setups]
    return [
        AgainstBest(part.measure.key, title, n, 0.0, Interval(float(a), float(b), 0.95), bool(m))
        for n, a, b, m in zip(names, low, high, may, strict=True)
    ]


def _around(middle: float, half: float, confidence: float) -> Interval:
    return Interval(middle - half, middle + half, confidence)


def _verdict(sim: Interval, inner: Interval, margin: float, better: Better) -> Verdict:
    low, high = (sim.low, sim.high) if better is Better.HIGHER else (-sim.high, -sim.low)
    if -margin < inner.low and inner.high < margin:
        return Verdict.LEVEL
    if low > 0:
        return Verdict.AHEAD_BEYOND if low >= margin else Verdict.AHEAD
    if high < 0:
        return Verdict.BEHIND_BEYOND if high <= -margin else Verdict.BEHIND
    return Verdict.OPEN


def _over(
    of: Study, part: Part, gains: np.ndarray, k: int, se: float, margin: float, comparisons: list[Comparison], one_visit: bool
) -> OverTitles:
    mean, tau = float(gains[:, k].mean()), float(gains[:, k].std(ddof=1)) if len(of.titles) > 1 else 0.0
    these_se = se / math.sqrt(len(of.titles)) + part.noise / 5
    sim, inner = _around(mean, 2.6 * these_se, 0.95), _around(mean, 1.7 * these_se, 0.9)
    like_se = math.hypot(these_se, tau / math.sqrt(len(of.titles)))
    own = [c.verdict for c in comparisons if c.setup == of.setups[k].name and c.against == of.baseline]
    count = {v: own.count(v) for v in Verdict}
    verdict = Verdict.UNTOLD if one_visit else _verdict(sim, inner, margin, part.measure.better)
    return OverTitles(
        part.measure.key,
        of.setups[k].name,
        of.baseline,
        mean,
        these_se,
        9.0,
        sim,
        inner,
        like_se,
        11.0,
        _around(mean, 2.2 * like_se, 0.95),
        tau,
        _around(mean, 2.2 * math.hypot(like_se, tau), 0.95),
        margin,
        verdict,
        len(of.titles),
        count[Verdict.AHEAD] + count[Verdict.AHEAD_BEYOND],
        count[Verdict.LEVEL],
        count[Verdict.BEHIND] + count[Verdict.BEHIND_BEYOND],
        count[Verdict.OPEN],
        count[Verdict.UNTOLD],
        0.02 if one_visit else None,
        3 if verdict is Verdict.OPEN else None,
    )


def _effects(part: Part, title: str | None, gain: np.ndarray, se: float, margin: float) -> list[Effect]:
    fast65, fast45, slow65, slow45 = (float(g) for g in gain)
    wanted = [
        (("memory",), (("6400", "5200"),), ((fast65 - slow65) + (fast45 - slow45)) / 2, se * 0.7),
        (("power",), (("65", "45"),), ((fast65 - fast45) + (slow65 - slow45)) / 2, se * 0.7),
        (("memory", "power"), (("6400", "5200"), ("65", "45")), (fast65 - slow65) - (fast45 - slow45), se * 1.4),
    ]
    return [
        Effect(
            part.measure.key,
            title,
            f,
            levels,
            value,
            own,
            12.0,
            _around(value, 2.1 * own, 0.95),
            margin,
            _verdict(_around(value, 2.1 * own, 0.95), _around(value, 1.75 * own, 0.9), margin, part.measure.better),
        )
        for f, levels, value, own in wanted
    ]


def traces(of: Study, title: str, bins: int = 240, seed: int = 3) -> tuple[PaceTrace, ...]:
    rng = np.random.default_rng([seed, sum(map(ord, title))])
    at = (np.arange(bins) + 0.5) * 60 / bins
    shape = 120 + 25 * np.sin(at / 7) + 8 * np.sin(at * 1.7)
    found = []
    for k, s in enumerate(of.setups):
        rate = shape * (1 - 0.03 * k) + rng.normal(0, 2, bins)
        slowest = rate * (0.9 - 0.05 * rng.random(bins))
        slowest[rng.integers(0, bins, 4)] *= 0.3
        found.append(PaceTrace(s.name, at, rate, slowest, "seconds", 8))
    return tuple(found)


def curves(of: Study, title: str, seed: int = 4) -> tuple[SlowCurve, ...]:
    rng = np.random.default_rng([seed, sum(map(ord, title))])
    share = np.geomspace(1e-4, 1, 80)
    return tuple(
        SlowCurve(s.name, share, (8 + 2 * k * share**-0.1) * (1 + 0.9 * share**-0.12 - 0.9) + rng.random() * 0.1, 8)
        for k, s in enumerate(of.setups)
    )


def material(of: Study | None = None, one_visit: bool = False, pictures: bool = True) -> Material:
    """Everything of a report, with a few doubtful and dropped runs."""
    of = of or study()
    shown = judged(of, visits=1 if one_visit else 4, one_visit=one_visit)
    entries, flags = [], []
    for i, t in enumerate(of.titles):
        for s in of.setups:
            for v in range(1, 5):
                for r in (1, 2):
                    address = RunKey(t.name, t.scenes[0].name, s.name, v, r)
                    odd = (i * 5 + v * 3 + r * 4) % 11 == 0
                    own = (_flag(address),) if odd else ()
                    flags += own
                    aside = odd and v > 2
                    cell = next(c for c in shown.measures["average"].cells if (c.title, c.setup) == (t.name, s.name))
                    entries.append(
                        RunEntry(
                            address,
                            Standing.SET_ASIDE if aside else Standing.KEPT,
                            {"average": cell.value, LOW.key: cell.value * 0.66},
                            7200,
                            60.0,
                            "R. Tester" if aside else "",
                            "the cap was on" if aside else "",
                            own,
                            False,
                            f"logs/{t.name}-{s.name}-{v}-{r}.csv",
                            f"{i:02d}ab{v}{r}" * 10,
                        )
                    )
    return Material(
        study=of,
        judgement=shown,
        screening=Screening(tuple(flags), len(entries), ("a load from end to end in the only run of a visit",)),
        runs=tuple(entries),
        made_at="2026-01-05 14:30",
        version="0.1.0",
        low=LOW.key,
        put_back=judged(of, seed=8),
        traces={(t.name, t.scenes[0].name): traces(of, t.name) for t in of.titles} if pictures else {},
        curves={(t.name, t.scenes[0].name): curves(of, t.name) for t in of.titles} if pictures else {},
        stretches=tuple(
            Stretch(f"{t.name}/{t.scenes[0].name}", "clock", "loading", 2.0, 55.0, (), "evenhand", "the shortest run")
            for t in of.titles
        ),
        events=(("2026-01-04 10:00", "96 runs taken in"), ("2026-01-04 11:00", "run set aside: the cap was on")),
        bench={"processor": "8 cores, 16 threads", "memory": "2 × 16 GB", "system": "as installed in December"},
        groups=response_groups(shown, AVERAGE.key, LOW.key),
        advice=recommend(shown, Preferences({AVERAGE.key: 1.0, LOW.key: 1.0})),
    )


def _flag(run: RunKey) -> Flag:
    return Flag(
        run,
        "capped",
        Weight.DOUBTFUL,
        ("capped",),
        "98 % of frames lie within 3 % of 16.7 ms.",
        "Turn the frame cap off and record the run again.",
        Standing.SET_ASIDE,
    )
