"""Lone stall: the game stood still once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Frames
from evenhand.screening.found import Found, doubt, note, share_words
from evenhand.screening.survey import SceneSurvey, Survey

LEAST_MS: Final = 100.0  # nobody misses a stop of a tenth of a second
_NEIGHBOURS: Final = 15  # frames on each side that say what is usual here
_MOST: Final = 3  # more stalls than these are no longer lone
_ORDINARY: Final = 0.2  # share of the scene's other runs with stalls from which they belong to the scene
_BEYOND: Final = 3.0  # times the longest frame that is usual in the scene's runs


@dataclass(frozen=True, slots=True)
class Stall:
    """A frame that stands out: its index, length and how many times as long as its neighbours it is."""

    frame: int
    ms: float
    times: float


def find(survey: Survey, threshold: float) -> Found:
    """Runs with one to three frames of at least 100 ms and `threshold` times their neighbours' median."""
    found = Found()
    for scene in survey.scenes:
        stalls = [stalls_of(survey.runs[int(i)].cut.counted, threshold) for i in scene.members]
        for row, mine in enumerate(stalls):
            if mine:
                _report(found, survey, scene, row, mine, stalls)
    return found


def stalls_of(frames: Frames, times: float) -> tuple[Stall, ...]:
    """Frames of at least 100 ms and `times` the median of their neighbours, in order."""
    ns = frames.ns
    out = []
    for i in np.flatnonzero(ns >= LEAST_MS * 1e6):
        beside = np.concatenate([ns[max(0, i - _NEIGHBOURS) : i], ns[i + 1 : i + 1 + _NEIGHBOURS]])
        if beside.size and ns[i] >= times * np.median(beside):
            out.append(Stall(int(i), float(ns[i] / 1e6), float(ns[i] / np.median(beside))))
    return tuple(out)


def _report(
    found: Found, survey: Survey, scene: SceneSurvey, row: int, mine: tuple[Stall, ...], stalls: list[tuple[Stall, ...]]
) -> None:
    i = int(scene.members[row])
    run = survey.runs[i]
    longest = max(mine, key=lambda s: s.ms)
    at = float(run.cut.counted.ns[: longest.frame].sum() / 1e9)
    others = [s for j, s in enumerate(stalls) if j != row]
    share = sum(1 for s in others if s) / len(others) if others else 0.0
    usual = [survey.traits[int(j)].longest_ms for j in scene.members if j != i]
    lone = len(mine) <= _MOST and share <= _ORDINARY and (not usual or longest.ms >= _BEYOND * np.median(usual))
    evidence = {"ms": longest.ms, "times": longest.times, "at_s": at, "stalls": float(len(mine)), "others": share}
    said = (
        f"The game stood still for {longest.ms:.0f} ms at {at:.1f} s, {longest.times:.0f} times as long as the frames around it"
    )
    stretch = (at, at + longest.ms / 1e3)
    if lone and others:
        found.flags.append(doubt(run.key, "lone-stall", f"{said}; no other run does so there.", evidence, stretch))
    else:
        why = f"; {share_words(share)} of the scene's other runs stall too" if others else ""
        found.flags.append(note(run.key, "lone-stall", f"{said}{why}.", evidence))
