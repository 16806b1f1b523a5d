"""Made studies of smooth games with their own stutters, and the shipped recordings as the checks see them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest

from evenhand.frames.model import Cut, Frames, Start
from evenhand.frames.stretch import apply, propose
from evenhand.screening.model import Flag, ScreenedRun, Screening, Weight
from evenhand.study.model import Pace, RunKey, Scene

NOTHING_BEFORE = Start(0, 0.0, False, False, "")


@dataclass(frozen=True)
class Making:
    """How a made study looks. cv : of single frames; lively : spread of the log frame time over the scene; visit, run : their
    spreads of the log rate; stutters : share of frames two to five times as long.
    """

    titles: int = 4
    setups: int = 3
    visits: int = 2
    runs: int = 2
    pace: Pace = Pace.CLOCK
    seconds: float = 40.0
    frames: int = 4000
    cv: float = 0.05
    lively: float = 0.15
    visit: float = 0.005
    run: float = 0.01
    stutters: float = 0.002
    effect: float = 0.03
    seed: int = 1


def frames_of(making: Making, content: np.ndarray, ms: float, rng: np.random.Generator) -> np.ndarray:
    """Durations in nanoseconds; content: log factor at equal steps over the scene."""
    by_frames = making.pace is Pace.FRAMES
    n = making.frames if by_frames else int(making.seconds * 1000 / ms / 0.5)
    noise = np.exp(rng.normal(0, making.cv, n))
    stutter = rng.random(n) < making.stutters
    noise[stutter] *= rng.uniform(2, 5, int(stutter.sum()))
    place, steps = np.arange(n) / n, np.linspace(0, 1, content.size)
    d = ms * np.exp(np.interp(place, steps, content)) * noise
    if by_frames:
        return np.rint(d * 1e6).astype(np.int64)
    for _ in range(4):  # where a frame lies depends on how long those before it took
        place = (np.cumsum(d) - d) / 1000 / making.seconds
        d = ms * np.exp(np.interp(place, steps, content)) * noise
    return np.rint(d[: max(1, int(np.searchsorted(np.cumsum(d) / 1000, making.seconds)))] * 1e6).astype(np.int64)


def run_of(key: RunKey, ns: np.ndarray, pace: Pace, position: float, seconds: float | None = None) -> ScreenedRun:
    frames = Frames(ns)
    cut = Cut(frames, 0, ns.size, NOTHING_BEFORE, 0.0, 0.0)
    return ScreenedRun(key, Scene(key.scene, key.scene, seconds, pace), frames, cut, f"{key}", position)


def made(making: Making) -> list[ScreenedRun]:
    rng = np.random.default_rng(making.seed)
    shifts = rng.normal(0, making.visit, (making.setups, making.visits))
    runs: list[ScreenedRun] = []
    for t in range(making.titles):
        content = rng.normal(0, making.lively, 40)
        usual, effects = rng.uniform(5, 16), rng.normal(0, making.effect, making.setups)
        for v in range(making.visits):
            for s in range(making.setups):
                for r in range(making.runs):
                    ms = usual * np.exp(effects[s] + shifts[s, v] + rng.normal(0, making.run))
                    key = RunKey(f"title{t}", f"title{t}", f"s{s}", v + 1, r + 1)
                    position = float(((v * making.setups + s) * making.runs + r) * making.titles + t)
                    runs.append(run_of(key, frames_of(making, content, ms, rng), making.pace, position))
    return runs


def changed(runs: Sequence[ScreenedRun], index: int, ns: np.ndarray, missing: float = 0.0) -> list[ScreenedRun]:
    """The runs with the frames of one of them replaced."""
    out, run = list(runs), runs[index]
    out[index] = replace(
        run, whole=Frames(ns), cut=Cut(Frames(ns), 0, ns.size, NOTHING_BEFORE, 0.0, missing), sha256=f"changed {index}"
    )
    return out


def doubts(screening: Screening) -> list[Flag]:
    return [f for f in screening.flags if f.weight is Weight.DOUBTFUL]


@dataclass(frozen=True)
class Bench:
    """What the tests of single checks need."""

    made: Callable[[Making], list[ScreenedRun]] = made
    changed: Callable[..., list[ScreenedRun]] = changed
    doubts: Callable[[Screening], list[Flag]] = doubts
    run_of: Callable[..., ScreenedRun] = run_of
    making: type[Making] = Making


@pytest.fixture(scope="session")
def bench() -> Bench:
    return Bench()


@pytest.fixture(scope="session")
def clean(bench: Bench) -> list[ScreenedRun]:
    """A clean study of four smooth games, three setups, two visits, two runs, by the clock."""
    return bench.made(Making())


@pytest.fixture(scope="session")
def fixed(bench: Bench) -> list[ScreenedRun]:
    """The same with scenes of fixed frames."""
    return bench.made(Making(pace=Pace.FRAMES))


@pytest.fixture(scope="session")
def shipped(recordings) -> Callable[..., list[ScreenedRun]]:
    """`shipped("campaign", "spoiled")`: recordings together, each scene's stretch proposed from the first set's runs."""

    def load(*names: str) -> list[ScreenedRun]:
        sets = {name: recordings(name) for name in names}
        stretches = {}
        for scene in dict.fromkeys(r.scene for r in sets[names[0]]):
            stretches[scene] = propose(f"{scene}/{scene}", "frames", [r.frames for r in sets[names[0]] if r.scene == scene])
        order = {}
        runs = []
        for name, found in sets.items():
            for place, r in enumerate(found):
                setup = r.row.get("claimed_setup") or r.row["setup"]
                key = RunKey(r.scene, r.scene, setup, int(r.row["visit"]), int(r.row["run"]))
                order[key] = float(r.row.get("order") or 1000 + place)
                cut = apply(r.frames, stretches[r.scene])
                runs.append(
                    ScreenedRun(key, Scene(r.scene, r.scene, pace=Pace.FRAMES), r.frames, cut, f"{name}{r.path}", order[key])
                )
        return runs

    return load
