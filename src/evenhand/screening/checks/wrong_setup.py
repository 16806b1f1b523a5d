"""Wrong setup: the run's rate is not its setup's but another's."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.found import Found, doubt, pace_words, share_words
from evenhand.screening.levels import Levels
from evenhand.screening.model import Flag
from evenhand.screening.roughness import odd_roughness
from evenhand.screening.survey import Survey
from evenhand.screening.visits import VisitsApart, visits_apart
from evenhand.study.model import RunKey
from evenhand.wording import counted, listed

_UNEXPLAINED: Final = 1 / 3  # share of the misfit that another setup may leave
_LEAST: Final = 0.02  # of a log rate: smaller misfits are not looked into
_LEAST_MATES: Final = 2  # other runs of the cell, below which it is not known which run is odd
_LEAST_SCENES: Final = 2  # of a visit that must speak, where it has so many: one scene is its runs' affair
_AGREE: Final = 0.5  # share of a visit's telling scenes that must speak for another setup
_PAIRS: Final = 4  # of setups named in one line
_MANY: Final = 8  # lines about setups that frames cannot tell apart


def find(survey: Survey, threshold: float) -> Found:
    """Runs, and whole visits, whose misfit of `threshold` spreads another setup explains to two thirds or more."""
    found = Found()
    levels, rough = survey.levels, odd_roughness(survey)
    setups = {(s.title, s.scene): tuple(dict.fromkeys(s.setups)) for s in survey.scenes}
    for i, run in enumerate(survey.runs):
        if levels.mates[i] < _LEAST_MATES:
            continue
        other = _better(levels, i, setups[(run.key.title, run.key.scene)], threshold)
        if other is not None and rough.z_under(survey, i, other) < threshold:
            found.flags.append(_flag_run(levels, i, other))
    spoken = {f.run for f in found.flags}
    found.flags.extend(f for f in _whole_visits(survey, threshold) if f.run not in spoken)
    found.untold.extend(_alike(levels, setups, threshold))
    return found


def _better(levels: Levels, i: int, setups: Iterable[str], threshold: float) -> str | None:
    """The setup under which run i would be as expected, None where its own will do or none does."""
    misfit = abs(levels.odd[i])
    if not misfit >= max(threshold * levels.scale[i], _LEAST):
        return None
    left = {s: abs(levels.value[i] - levels.under(i, s)) for s in setups if s != levels.keys[i].setup}
    best = min(left, key=lambda s: left[s], default=None)
    return best if best is not None and left[best] <= _UNEXPLAINED * misfit else None


def _flag_run(levels: Levels, i: int, other: str) -> Flag:
    odd, left = float(levels.odd[i]), float(levels.value[i] - levels.under(i, other))
    said = (
        f"{pace_words(odd)} than its setup in this visit, which is {abs(odd) / levels.scale[i]:.1f} robust standard deviations; "
        f"another setup explains it to {share_words(1 - abs(left / odd))}."
    )
    evidence = {"difference": odd, "left": left, "z": odd / float(levels.scale[i])}
    return doubt(levels.keys[i], "wrong-setup", said, evidence, also=("busy-machine", "odd-run") if odd < 0 else ("odd-run",))


def _whole_visits(survey: Survey, threshold: float) -> list[Flag]:
    """A visit most of whose scenes fit another setup: its own runs agree, so it is held against the other visits."""
    groups: dict[RunKey, list[int]] = {}
    for i, run in enumerate(survey.runs):
        groups.setdefault(replace(run.key, run=0), []).append(i)
    keys = list(groups)
    apart = visits_apart(keys, np.array([np.median(survey.levels.value[g]) for g in groups.values()]))
    flags = []
    for setup, visit in dict.fromkeys((k.setup, k.visit) for k in keys):
        cells = [i for i, k in enumerate(keys) if (k.setup, k.visit) == (setup, visit)]
        least = max(threshold * apart.scale_without(visit), _LEAST)
        for other in dict.fromkeys(k.setup for k in keys if k.setup != setup):
            tells = [i for i in cells if abs(apart.misfit[i] - apart.left(i, other)) >= least]
            speaks = [i for i in tells if _fits(apart, i, other, least, survey.levels.value[groups[keys[i]]])]
            if len(speaks) > _AGREE * len(tells) and len(speaks) >= min(len(cells), _LEAST_SCENES):
                for i in cells:
                    odd = float(apart.misfit[i])
                    flags += [_flag_visit(survey.key(j), odd, len(speaks), len(tells)) for j in groups[keys[i]]]
    return flags


def _fits(apart: VisitsApart, i: int, other: str, least: float, runs: Floats) -> bool:
    """Whether the cell, and each of its runs by itself, is as expected under the other setup and not under its own."""
    own = np.array([apart.misfit[i], *(apart.misfit[i] + runs - apart.value[i])])
    left = own - apart.misfit[i] + apart.left(i, other)
    return bool(np.all(np.abs(own) >= least) and np.all(np.abs(left) <= _UNEXPLAINED * np.abs(own)))


def _flag_visit(run: RunKey, odd: float, agree: int, scenes: int) -> Flag:
    said = (
        f"The whole visit lies apart from the setup's other visits ({pace_words(odd)} here), and another setup explains it in "
        f"{agree} of {counted(scenes, 'scene')} that can tell."
    )
    return doubt(run, "wrong-setup", said, {"difference": odd, "scenes": float(agree)}, also=("odd-run",))


def _alike(levels: Levels, setups: dict[tuple[str, str], tuple[str, ...]], threshold: float) -> list[str]:
    """Which setups frames cannot tell apart, scene by scene; names in “ ” so that blind mode can hide them."""
    scale = {(k.title, k.scene): float(s) for k, s in zip(levels.keys, levels.scale, strict=True)}
    scenes: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for (title, scene), names in setups.items():
        middle = {s: float(np.median(levels.adjusted[(title, scene, s)])) for s in names}
        near = max(threshold * scale[(title, scene)], _LEAST)
        pairs = tuple((a, b) for a, b in combinations(names, 2) if abs(middle[a] - middle[b]) < near)
        if pairs:
            scenes.setdefault(pairs, []).append(title if title == scene else f"{title}/{scene}")
    lines = [_alike_line(pairs, where, len(setups)) for pairs, where in scenes.items()]
    if len(lines) > _MANY:
        return [f"In {counted(sum(map(len, scenes.values())), 'scene')} frames cannot tell every two setups apart: {_PROOF}"]
    return lines


_PROOF: Final = "a wrong setup there needs a proof (a snapshot of the bench)."


def _alike_line(pairs: tuple[tuple[str, str], ...], where: list[str], scenes: int) -> str:
    names = {name for pair in pairs for name in pair}
    if len(names) > 2 and 2 * len(pairs) == len(names) * (len(names) - 1):
        said = f"any two of {listed([f'“{name}”' for name in sorted(names)])} apart"
    else:
        shown = [f"“{a}” from “{b}”" for a, b in pairs[:_PAIRS]]
        more = len(pairs) - len(shown)
        said = listed([*shown, f"{more} more pairs of setups"] if more > 1 else [f"“{a}” from “{b}”" for a, b in pairs])
    place = "every scene" if len(where) == scenes > 1 else listed(where)
    return f"In {place} frames of one run cannot surely tell {said}: {_PROOF}"
