"""The invented study, with its truth: which memory speed and power limit suit a small living-room PC?

Nothing is shipped: logs are generated from a seed, the same bytes every time.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from evenhand.examples.invented_frames import (
    BUSY,
    COMPILING,
    IDLE,
    Course,
    before_scene,
    compile_shaders,
    draw_course,
    draw_run,
    roughen,
    stall,
    within,
)
from evenhand.examples.invented_logs import FORMATS
from evenhand.examples.invented_titles import SETUPS, TITLES, InventedTitle, Response
from evenhand.frames.model import Floats, Frames
from evenhand.study.model import Factor, IntervalMeaning, Level, Protocol, RunKey, Scene, Setup, Study, Title

VISITS: Final = 3
RUNS: Final = 2
RUN_SD: Final = 0.006
VISIT_SD: Final = 0.005  # of a visit, shared by all titles
TITLE_SD: Final = 0.004  # of a visit, for one title

#: Order of setups in the three rounds.
ROUNDS: Final = (
    ("fast-65", "slow-45", "fast-45", "slow-65"),
    ("slow-65", "fast-45", "slow-45", "fast-65"),
    ("fast-45", "fast-65", "slow-65", "slow-45"),
)
#: Checks whose doubt takes a run out, as the study states beforehand.
SET_ASIDE: Final = ("same-log", "too-short", "other-content", "capped", "lone-stall", "busy-machine", "first-run")
PATTERN: Final = "{title}/{setup}-v{visit}-r{run}"
_FIRST_RUN_AT: Final = 1_767_952_800  # 2026-01-09 10:00 UTC
_STREAM: Final = {"course": 0, "visit": 1, "title": 2, "run": 3}


def _key(title: str, setup: str, visit: int, run: int) -> RunKey:
    return RunKey(title, title, setup, visit, run)


#: Runs that went wrong -> kind, as the slug of the check that should find it.
_SPOILED: Final[dict[RunKey, str]] = {
    _key("paper-armada", "slow-65", 2, 1): "capped",
    _key("moss-and-ember", "fast-45", 1, 2): "too-short",
    _key("harbour-lights", "slow-45", 3, 1): "busy-machine",
    _key("velvet-turbine", "fast-45", 3, 2): "lone-stall",
    _key("quiet-orbit", "fast-65", 2, 2): "same-log",
    _key("under-glass", "slow-65", 1, 1): "other-content",
}


@dataclass(frozen=True, slots=True)
class Truth:
    """What an analysis of the invented study should find.

    average, low : title -> setup -> true logarithm of the ratio to the baseline. response : title -> how it answers.
    spoiled : run -> kind, a slug of screening. warm_up : titles whose first run of a visit is unlike the rest.
    run_sd, visit_sd, title_sd : standard deviations of the noise, on logarithms of the average.
    """

    average: Mapping[str, Mapping[str, float]]
    low: Mapping[str, Mapping[str, float]]
    response: Mapping[str, Response]
    spoiled: Mapping[RunKey, str]
    warm_up: tuple[str, ...]
    run_sd: float = RUN_SD
    visit_sd: float = VISIT_SD
    title_sd: float = TITLE_SD


def invented_truth() -> Truth:
    """The truth behind `write_logs`."""
    return Truth(
        average={t.name: t.average for t in TITLES},
        low={t.name: t.low for t in TITLES},
        response={t.name: t.response for t in TITLES},
        spoiled=dict(_SPOILED),
        warm_up=tuple(t.name for t in TITLES if t.warms_up),
    )


def invented_study() -> Study:
    """The study that the invented logs answer: two factors, four setups, twelve titles, three visits of two runs."""
    memory = Factor(
        "memory",
        "memory speed",
        (Level("6400", "6400 MT/s", 6400.0), Level("5200", "5200 MT/s", 5200.0)),
    )
    power = Factor("power", "power limit", (Level("65", "65 W", 65.0), Level("45", "45 W", 45.0)))
    levels = {name: {"memory": "6400" if "fast" in name else "5200", "power": name[-2:]} for name in SETUPS}
    return Study(
        question="Which memory speed and power limit suit a small living-room PC?",
        baseline=SETUPS[0],
        setups=tuple(Setup(s, f"{levels[s]['memory']} MT/s · {levels[s]['power']} W", levels[s]) for s in SETUPS),
        titles=tuple(_title(t) for t in TITLES),
        factors=(memory, power),
        interval=IntervalMeaning.PRESENT,
        protocol=Protocol(visits=VISITS, runs=RUNS, set_aside=SET_ASIDE, notes=_notes()),
    )


def _title(title: InventedTitle) -> Title:
    scene = Scene(title.name, title.label, seconds=title.seconds, settings="1920×1080, high", cap=title.cap)
    return Title(title.name, title.label, (scene,))


def _notes() -> str:
    order = "; ".join(", ".join(r) for r in ROUNDS)
    return f"Invented data with known truth. Three rounds of visits, memory and power limit set anew before each: {order}."


def keys() -> Iterator[RunKey]:
    """Every run of the study, in the order of recording."""
    for visit, order in enumerate(ROUNDS, start=1):
        for setup in order:
            for run in range(1, RUNS + 1):
                for title in TITLES:
                    yield _key(title.name, setup, visit, run)


def invented_frames(key: RunKey, seed: int = 20260) -> Frames:
    """Frames of one run as its log has them, whatever went wrong included. KeyError for a run outside the study."""
    return _frames_of(_run_ms(key, seed))


def write_logs(folder: Path, seed: int = 20260) -> None:
    """Write all 288 logs as `title/setup-v1-r1.suffix`, each title in one of three formats; file times follow the order
    of recording. Files of the same names are overwritten.
    """
    for place, key in enumerate(keys()):
        number = _number(key.title)
        suffix, write = FORMATS[number % len(FORMATS)]
        path = folder / (PATTERN.format(title=key.title, setup=key.setup, visit=key.visit, run=key.run) + suffix)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(write(_run_ms(key, seed)))
        moment = _FIRST_RUN_AT + 60 * place
        os.utime(path, (moment, moment))


def _run_ms(key: RunKey, seed: int) -> Floats:
    """Frame times of one log in ms, shape (n,)."""
    kind = _SPOILED.get(key, "")
    if kind == "same-log":
        return _run_ms(_key(key.title, key.setup, key.visit, 1), seed)
    number, setup = _number(key.title), SETUPS.index(key.setup)
    title = TITLES[number]
    rng = _rng(seed, "run", number, setup, key.visit, key.run)
    shift = _shift(seed, number, setup, key.visit) + RUN_SD * rng.standard_normal()
    course = _course(seed, number + len(TITLES) if kind == "other-content" else number)
    effects = (title.average[key.setup] + shift, title.low[key.setup] + shift)
    cold = title.warms_up and key.run == 1
    load = COMPILING if cold else BUSY if kind == "busy-machine" else IDLE
    ms = draw_run(title, course, effects, rng, load=load, cap=60.0 if kind == "capped" else title.cap)
    if cold:
        ms = compile_shaders(ms, rng)
    if kind == "busy-machine":
        ms = roughen(ms, BUSY, rng)
    if kind == "lone-stall":
        ms = stall(ms, round(ms.size * rng.uniform(0.3, 0.8)), 650.0)
    recorded = title.seconds * (0.6 if kind == "too-short" else 1.0)
    return np.concatenate((before_scene(title, rng), within(ms, rng.uniform(0.0, 0.2), recorded)))


def _shift(seed: int, title: int, setup: int, visit: int) -> float:
    """Shift of a visit: what all titles share, and the title's own."""
    shared = VISIT_SD * _rng(seed, "visit", setup, visit).standard_normal()
    own = TITLE_SD * _rng(seed, "title", title, setup, visit).standard_normal()
    return float(shared + own)


def _course(seed: int, number: int) -> Course:
    return draw_course(_rng(seed, "course", number))


def _rng(seed: int, stream: str, *place: int) -> np.random.Generator:
    """A stream of its own for every place, so that no run's noise depends on which others are drawn."""
    return np.random.Generator(np.random.PCG64([seed, _STREAM[stream], *place]))


def _number(title: str) -> int:
    return {t.name: i for i, t in enumerate(TITLES)}[title]


def _frames_of(ms: Floats) -> Frames:
    """Whole nanoseconds such that running sums are right to the nanosecond."""
    ends = np.rint(np.concatenate(([0.0], np.cumsum(ms))) * 1e6).astype(np.int64)
    return Frames(np.diff(ends))
