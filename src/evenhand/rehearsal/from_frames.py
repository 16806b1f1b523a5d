"""Simulated studies down to their frames: what is true of them is known, and a known part of their runs is spoiled.

Levels are those of judging (rounds, visits shared by all titles, title by visit, runs), drawn by `simulate`; frames follow
`frame_law`. Every run exists twice, as recorded first and as recorded anew in the same visit, should it be asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from evenhand.frames.model import Cut, Floats, Frames, Nanoseconds, Start
from evenhand.rehearsal.frame_law import MEASURES, FrameLaw
from evenhand.rehearsal.simulate import Truth, simulate
from evenhand.rehearsal.spoil import KINDS, OTHER_SCENE, Kind, in_place_of, spoiled
from evenhand.screening.model import ScreenedRun
from evenhand.study.model import Pace, RunKey, Scene

HEAVY_SHARE: Final = 0.03  # of a scene's frames, always the same ones; they hold most of the slowest hundredth
FASTER: Final = (0.0, 0.0, 0.03, 0.08)  # what setups change, on the logarithm of the rate; more setups begin anew
TITLE_EFFECT: Final = 0.02  # by which titles differ in that
TAIL_EFFECT: Final = 0.04  # by which heavy frames of a title and setup differ further


def _warming_up(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    """The machine grows hot: frames slow down steadily, by 5 to 15 % until the end."""
    return np.asarray(np.rint(ns * np.linspace(1.0, 1 + rng.uniform(0.05, 0.15), ns.size)), dtype=np.int64)


def _not_prepared(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    """Shaders are compiled as they are met: 20 frames of the first half take 40 to 120 ms longer, the rest 3 % longer."""
    out = ns * 1.03
    out[rng.choice(np.arange(1, ns.size // 2), 20, replace=False)] += rng.uniform(40e6, 120e6, 20)
    return np.asarray(np.rint(out), dtype=np.int64)


HEATING: Final = Kind("slower to the end, by 5 to 15 %", ("busy-machine", "odd-run"), _warming_up)
COMPILING: Final = Kind("first run of a visit, shaders compiled", ("first-run", "lone-stall"), _not_prepared)
_BURSTS: Final = tuple(k for k in KINDS if k.name.startswith("load in part"))
_STALL: Final = next(k for k in KINDS if k.name.startswith("stopped once"))

#: What may have happened to a run; the last one to first runs of a visit only.
SPOILS: Final[tuple[Kind, ...]] = (*_BURSTS, OTHER_SCENE, HEATING, _STALL, COMPILING)


@dataclass(frozen=True, slots=True)
class FrameStudy:
    """A kind of study. noise : its levels, without effects. frames : of a scene (least, most), drawn for each title.

    spoiled : share of runs in which something went wrong; one_setup : under the last setup alone. capped : so many titles, the
    first, have a cap at which half of the frames under the fastest setup would be held. seed : of what titles show and setups do,
    the same in every study of the kind.
    """

    noise: Truth
    frames: tuple[int, int] = (900, 1500)
    spoiled: float = 0.05
    one_setup: bool = False
    capped: int = 0
    seed: int = 1

    @property
    def setups(self) -> tuple[str, ...]:
        """Names of the setups; the first is the baseline."""
        return tuple(f"s{c + 1}" for c in range(self.noise.setups))

    @property
    def titles(self) -> tuple[str, ...]:
        """Names of the titles."""
        return tuple(f"t{t + 1}" for t in range(self.noise.titles))

    @property
    def spread(self) -> float:
        """Standard deviation of the logarithm of a run's rate about its cell's."""
        n = self.noise
        return float(np.sqrt(n.run_noise**2 + n.title_shift**2 + n.visit_shift**2 + n.round_shift**2))


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """Titles of a kind of study. laws : title -> setup -> law. true : measure -> (T, C), logarithm of the rate."""

    laws: Mapping[str, Mapping[str, FrameLaw]]
    true: Mapping[str, Floats]


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """One study. honest, anew : every run as it should be, recorded first and, in the same visit, again. wrong, wrong_anew : the
    spoiled ones among either. kinds : what is wrong with those of `wrong`.
    """

    honest: Mapping[RunKey, ScreenedRun]
    anew: Mapping[RunKey, ScreenedRun]
    wrong: Mapping[RunKey, ScreenedRun]
    wrong_anew: Mapping[RunKey, ScreenedRun]
    kinds: Mapping[RunKey, Kind]


@lru_cache(maxsize=64)
def known(kind: FrameStudy) -> Known:
    """Draw the titles of a kind of study and work out what is true of them."""
    rng = np.random.default_rng(kind.seed)
    laws = {title: _laws(kind, t < kind.capped, rng) for t, title in enumerate(kind.titles)}
    truths = [[law.truth(kind.spread) for law in of_title.values()] for of_title in laws.values()]
    return Known(laws, {m: np.array([[cell[m] for cell in row] for row in truths]) for m in MEASURES})


def _laws(kind: FrameStudy, capped: bool, rng: np.random.Generator) -> dict[str, FrameLaw]:
    """One title under every setup: waves and steps of frame time, heavy frames, 60 to 140 frames a second."""
    frames = int(rng.integers(*kind.frames, endpoint=True))
    at = np.arange(frames) / frames
    course = np.full(frames, np.log(1e3 / rng.uniform(60, 140)))
    for k in range(1, 7):
        course += 0.07 * rng.uniform(0.4, 1.0) / np.sqrt(k) * np.sin(2 * np.pi * (k * at + rng.random()))
    for place in rng.uniform(0.05, 0.95, 6):
        course += np.where(at >= place, rng.uniform(0.05, 0.12) * rng.choice([-1.0, 1.0]), 0.0)
    heavy = rng.choice(frames, round(HEAVY_SHARE * frames), replace=False)
    by = 0.6 + 0.15 * rng.standard_normal(heavy.size)
    laws = {}
    for c, setup in enumerate(kind.setups):
        place = course - FASTER[c % len(FASTER)] - TITLE_EFFECT * rng.standard_normal()
        place[heavy] += by + TAIL_EFFECT * rng.standard_normal()
        laws[setup] = FrameLaw(place)
    if capped:
        cap_ms = float(np.exp(min(np.median(law.place) for law in laws.values())))
        laws = {setup: replace(law, cap_ms=cap_ms) for setup, law in laws.items()}
    return laws


def record(kind: FrameStudy, study: int) -> Recorded:
    """Study number `study` of its kind; the number alone decides what is drawn."""
    runs = kind.noise.runs
    twice = replace(kind.noise, runs=2 * runs)
    rng = np.random.default_rng([kind.seed, study])
    shifts = simulate(twice, rng).values[0]
    found: dict[RunKey, ScreenedRun] = {}
    for t, (title, laws) in enumerate(known(kind).laws.items()):
        for c, (setup, law) in enumerate(laws.items()):
            drawn = np.rint(law.draw(shifts[t, c].ravel(), rng) * 1e6).astype(np.int64)
            for i, ns in enumerate(drawn):
                key = RunKey(title, title, setup, i // twice.runs + 1, i % twice.runs + 1)
                found[key] = _run(key, ns, (key.visit * kind.noise.setups + c) * kind.noise.titles + t)
    honest = {k: r for k, r in found.items() if k.run <= runs}
    anew = {k: replace(found[replace(k, run=k.run + runs)], key=k) for k in honest}
    wrong, kinds = _go_wrong(kind, honest, anew, rng)
    wrong_anew, _ = _go_wrong(kind, anew, honest, rng)
    return Recorded(honest, anew, wrong, wrong_anew, kinds)


def _run(key: RunKey, ns: Nanoseconds, position: int) -> ScreenedRun:
    frames = Frames(ns)
    cut = Cut(frames, 0, len(frames), Start(0, 0.0, False, False, "the log holds the scene alone"), 0.0, 0.0)
    return ScreenedRun(key, Scene(key.scene, key.scene, pace=Pace.FRAMES), frames, cut, str(key), position + key.run / 100)


def _go_wrong(
    kind: FrameStudy, runs: Mapping[RunKey, ScreenedRun], others: Mapping[RunKey, ScreenedRun], rng: np.random.Generator
) -> tuple[dict[RunKey, ScreenedRun], dict[RunKey, Kind]]:
    """Spoil each run with the chance of the kind of study. others : frames of other scenes are taken from there."""
    wrong: dict[RunKey, ScreenedRun] = {}
    kinds: dict[RunKey, Kind] = {}
    titles = tuple(dict.fromkeys(k.title for k in runs))
    for key, run in runs.items():
        if rng.random() >= kind.spoiled or (kind.one_setup and key.setup != kind.setups[-1]):
            continue
        may = SPOILS if key.run == 1 else SPOILS[:-1]
        chosen = may[rng.integers(len(may))]
        kinds[key] = chosen
        if chosen.spoil is not None:
            wrong[key] = spoiled(run, chosen.spoil, rng)
        else:
            played = titles[(titles.index(key.title) + int(rng.integers(1, len(titles)))) % len(titles)]
            wrong[key] = in_place_of(run, others[replace(key, title=played, scene=played)], level=False)
    return wrong, kinds
