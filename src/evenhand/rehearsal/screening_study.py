"""How well screening finds spoiled runs: counts over recorded and made ones, thresholds set without the scene they judge.

A *strictness* multiplies the limits of all checks that weigh a robust distance or a share (a looser content limit goes the
other way). For every scene it is chosen on the other scenes alone, for the most right reasons with few good runs flagged, and
then tried on that scene: what a study of scenes that nobody has seen yet may expect.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.rehearsal.spoil import KINDS, OTHER_SCENE, OTHER_SETUP, Kind, in_place_of, spoiled
from evenhand.screening.catalogue import CHECKS
from evenhand.screening.model import ScreenedRun, Screening, Weight
from evenhand.screening.screen import screen
from evenhand.study.model import RunKey

GOOD: Final = "good"
STRICTNESS: Final = (0.8, 1.0, 1.25)
_AT_ONCE: Final = 4  # made runs in one screening: few enough that the others stay what they are
_PRICE: Final = 5.0  # a good run flagged counts as much as so many right reasons missed
_SCALED: Final = ("capped", "lone-stall", "wrong-setup", "busy-machine", "first-run", "odd-run")
_GAPS: Final = (20.0, 50.0)  # per cent between two setups, at which the rows of the table part


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one run. kind : what was wrong with it, or `GOOD`. right : the first reason is one that fits the kind."""

    scene: str
    kind: str
    flagged: bool
    right: bool


def limits(strictness: float) -> dict[str, float]:
    """Thresholds of all checks at a strictness; 1 is the catalogue's."""
    scaled = {slug: CHECKS[slug].threshold * strictness for slug in _SCALED}
    return {**scaled, "capped": min(scaled["capped"], 0.95), "other-content": CHECKS["other-content"].threshold / strictness}


def recorded_outcomes(
    runs: Sequence[ScreenedRun], kinds: Mapping[RunKey, tuple[str, tuple[str, ...]]], strictness: float
) -> list[Outcome]:
    """Outcomes of runs as recorded. kinds : run -> (what is wrong, right reasons), for the runs that are spoiled."""
    screening = screen(runs, limits(strictness))
    return [_outcome(screening, r.key, *kinds.get(r.key, (GOOD, ()))) for r in runs]


def made_outcomes(runs: Sequence[ScreenedRun], count: int, strictness: float, seed: int) -> list[Outcome]:
    """Outcomes of `count` made runs of each kind, four at a time among the good ones; only the made ones are counted."""
    found: list[Outcome] = []
    for mixed, kinds in _made(runs, count, seed):
        screening = screen(mixed, limits(strictness))
        found += [_outcome(screening, key, name, right) for key, (name, right) in kinds.items()]
    return found


def chosen_without(evidence: Mapping[float, Sequence[Outcome]]) -> dict[str, float]:
    """For each scene the strictness that does best on all *other* scenes. evidence : strictness -> outcomes."""
    chosen: dict[str, float] = {}
    for scene in dict.fromkeys(o.scene for o in next(iter(evidence.values()))):
        worth = {s: _worth([o for o in rows if o.scene != scene]) for s, rows in evidence.items()}
        chosen[scene] = max(worth, key=lambda s: (round(worth[s], 9), -abs(np.log(s))))
    return chosen


def leaving_scenes_out(outcomes: Mapping[float, Sequence[Outcome]], chosen: Mapping[str, float]) -> list[Outcome]:
    """Outcomes of each scene at the strictness chosen without it."""
    return [o for scene, strictness in chosen.items() for o in outcomes[strictness] if o.scene == scene]


def _worth(rows: Sequence[Outcome]) -> float:
    """Mean share of right reasons over the kinds, less the price of good runs flagged."""
    right: dict[str, list[bool]] = defaultdict(list)
    for o in rows:
        right[o.kind].append(o.flagged if o.kind == GOOD else o.right)
    false = float(np.mean(right.pop(GOOD, [False])))
    return float(np.mean([np.mean(v) for v in right.values()])) - _PRICE * false if right else -_PRICE * false


def _outcome(screening: Screening, key: RunKey, kind: str, right: tuple[str, ...]) -> Outcome:
    first = next((f.check for f in screening.of(key) if f.weight is Weight.DOUBTFUL), None)
    return Outcome(key.scene, kind, first is not None, first in right)


def _made(
    runs: Sequence[ScreenedRun], count: int, seed: int
) -> Iterator[tuple[list[ScreenedRun], dict[RunKey, tuple[str, tuple[str, ...]]]]]:
    """Sets of runs with a few spoiled among them, and what was done to which."""
    rng = np.random.default_rng(seed)
    queue = [kind for kind in KINDS for _ in range(count)]
    queue = [queue[i] for i in rng.permutation(len(queue))]
    rates: dict[tuple[str, str], list[float]] = defaultdict(list)
    for r in runs:
        rates[(r.key.scene, r.key.setup)].append(1e3 / float(np.median(r.cut.counted.ms)))
    for begin in range(0, len(queue), _AT_ONCE):
        mixed = list(runs)
        kinds: dict[RunKey, tuple[str, tuple[str, ...]]] = {}
        places = rng.choice(len(runs), size=_AT_ONCE, replace=False)
        gone: set[RunKey] = set()
        for place, kind in zip(places, queue[begin : begin + _AT_ONCE], strict=False):
            mixed[place], name, source = _make(kind, runs[place], runs, rates, rng)
            kinds[runs[place].key] = (name, kind.right)
            gone.add(source)
        yield [r for r in mixed if r.key in kinds or r.key not in gone], kinds


def _make(
    kind: Kind,
    run: ScreenedRun,
    runs: Sequence[ScreenedRun],
    rates: Mapping[tuple[str, str], Sequence[float]],
    rng: np.random.Generator,
) -> tuple[ScreenedRun, str, RunKey]:
    """One made run, the row of the table it belongs to, and whose frames it has (which may not be there a second time)."""
    if kind.spoil is not None:
        return spoiled(run, kind.spoil, rng), kind.name, run.key
    if kind is OTHER_SCENE:
        others = [r for r in runs if r.key.scene != run.key.scene]
        other = others[rng.integers(len(others))]
        return in_place_of(run, other, level=True), kind.name, other.key
    others = [r for r in runs if _twin(r.key, run.key)]
    other = others[rng.integers(len(others))]
    return in_place_of(run, other, level=False), _gap_row(rates, run.key, other.key.setup), other.key


def _twin(a: RunKey, b: RunKey) -> bool:
    """Same scene and visit number, another setup: what a forgotten change of the setup would have recorded."""
    return (a.scene, a.visit, a.run) == (b.scene, b.visit, b.run) and a.setup != b.setup


def _gap_row(rates: Mapping[tuple[str, str], Sequence[float]], key: RunKey, other: str) -> str:
    one, two = float(np.median(rates[(key.scene, key.setup)])), float(np.median(rates[(key.scene, other)]))
    gap = (max(one, two) / min(one, two) - 1) * 100
    low, high = _GAPS
    if gap < low:
        return f"{OTHER_SETUP.name}, under {low:.0f} % apart"
    return (
        f"{OTHER_SETUP.name}, {low:.0f} to {high:.0f} % apart" if gap < high else f"{OTHER_SETUP.name}, over {high:.0f} % apart"
    )
