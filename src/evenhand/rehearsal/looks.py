"""What looking more than once costs, counted on studies without any difference.

Every study is judged after each visit by the functions that `judge` calls, once at the full level (free looks), once at the level
that the spending functions leave, once only when it is sharp enough (precision). A claim made at any look counts: whoever stops
when pleased would have stopped there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from evenhand.judging.critical import pairs_quantile, t_quantile, title_quantiles
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.layout import layout_of
from evenhand.judging.looks import LEAST_DF, look_at
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.rehearsal.count import Share, title_pairs
from evenhand.rehearsal.simulate import Truth, simulate
from evenhand.study.model import Spending

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

FIRST_LOOK: Final = 2  # one visit bears no verdict
MARGIN: Final = math.log1p(0.03)
CONFIDENCE: Final = 0.95
BATCH_VALUES: Final = 3_000_000


@dataclass(frozen=True, slots=True)
class Levels:
    """Confidences at each look, from the first on: of simultaneous intervals and of those that level rests on."""

    confidence: tuple[float, ...]
    inner: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Claims:
    """What one way of looking claims falsely.

    over : ahead or behind over titles, of one pair; ahead : ahead alone; title : ahead or behind for any pair of a title. level :
    level at a title where the truth is the margin. visits : mean number of visits when the study stops, for the first pair over
    titles.
    """

    over: Share
    ahead: Share
    title: Share
    level: Share
    visits: float


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """One look at S studies: errors and standard errors over titles (S, P) and at titles (S, K), with degrees of freedom."""

    over_error: Floats
    over_se: Floats
    over_df: Floats
    title_error: Floats
    title_se: Floats
    title_df: Floats
    title_critical: Callable[[float], Floats]
    setups: int
    shift_df: float

    @property
    def noise_known(self) -> bool:
        """Whether precision is believed."""
        return round(self.shift_df, 6) >= LEAST_DF

    def half_over(self, confidence: float) -> Floats:
        """(S, P): half-width over titles."""
        return np.asarray(pairs_quantile(self.setups, self.over_df, confidence) * self.over_se)

    def beyond(self, confidence: float) -> Bools:
        """(S, K): ahead or behind at a title."""
        return np.asarray(np.abs(self.title_error) > self.title_critical(confidence) * self.title_se)

    def level(self, inner: float) -> Bools:
        """(S, K): level though the truth is the margin above."""
        half = t_quantile(self.title_df, inner) * self.title_se
        return np.asarray((self.title_error + half < 0) & (self.title_error - half > -2 * MARGIN))


def ways(visits: int, confidence: float = CONFIDENCE) -> dict[str, Levels]:
    """Names of the ways of looking after every visit from the second on, with the confidences of each look."""
    looks = tuple(range(FIRST_LOOK, visits + 1))
    once = Levels((1.0,) * (len(looks) - 1) + (confidence,), (1.0,) * (len(looks) - 1) + (INNER_CONFIDENCE,))
    free = Levels((confidence,) * len(looks), (INNER_CONFIDENCE,) * len(looks))
    planned = {}
    for spending in Spending:
        seen = [look_at((n,), looks, spending, confidence) for n in looks]
        planned[f"spent, {spending.value}"] = Levels(tuple(s.confidence for s in seen), tuple(s.inner for s in seen))
    return {"once, at the end": once, "freely": free, **planned}


def count_looks(truth: Truth, studies: int, seed: int, rounds: bool = False, aim: int = 0) -> dict[str, Claims]:
    """Claims of every way of looking at studies of the kind `truth` (all setups alike, the same visits of each).

    aim : precision stops at the half-width that half of the studies have with so many visits; 0 = half-way to the end.
    """
    rng = np.random.default_rng(seed)
    visits = int(max(truth.visits_of))
    looks = range(FIRST_LOOK, visits + 1)
    per_study = truth.titles * truth.setups * visits * truth.runs
    batch = max(1, min(studies, BATCH_VALUES // per_study))
    parts: list[dict[str, dict[str, Floats]]] = []
    target = 0.0
    for start in range(0, studies, batch):
        values = simulate(truth, rng, min(batch, studies - start)).values.mean(axis=-1)
        seen = [_look(values[..., :n], rounds) for n in looks]
        if not target:
            target = float(np.median(seen[(aim or (visits + FIRST_LOOK) // 2) - FIRST_LOOK].half_over(CONFIDENCE).max(axis=1)))
        parts.append({name: _by_levels(seen, levels) for name, levels in ways(visits).items()})
        parts[-1]["by precision"] = _by_precision(seen, target)
    return {name: _claims([part[name] for part in parts]) for name in parts[0]}


def _look(means: Floats, rounds: bool) -> _Seen:
    """One look at visit means (S, T, C, n). The truth is 0 everywhere, so estimates are errors."""
    layout = layout_of(np.ones(means.shape[1:], dtype=np.bool_), rounds)
    picked = layout.pick(means)
    noise = visit_noise(layout, picked)
    title, pair, weights = title_pairs(layout)
    titles, setups, _ = layout.shape
    rows = contrast_weights(layout, np.eye(titles)[title], weights[pair])
    at = estimates(layout, noise, picked, rows)
    over = estimates(layout, noise, picked, contrast_weights(layout, np.full((len(weights), titles), 1 / titles), weights))

    def critical(confidence: float) -> Floats:
        return title_quantiles(layout, noise, title, rows, at.df, confidence)

    return _Seen(over.estimate, over.se, over.df, at.estimate, at.se, at.df, critical, setups, layout.shift_df)


def _by_levels(seen: Sequence[_Seen], levels: Levels) -> dict[str, Floats]:
    """Claims at any look, and at which look the first pair over titles stops; per study."""
    looks = [(k, look) for k, look in enumerate(seen) if levels.confidence[k] < 1.0]
    halves = [look.half_over(levels.confidence[k]) for k, look in looks]
    above = np.array([look.over_error > half for (_, look), half in zip(looks, halves, strict=True)])
    claimed = above | np.array([look.over_error < -half for (_, look), half in zip(looks, halves, strict=True)])
    first = claimed.argmax(axis=0)
    ahead = np.take_along_axis(above, first[None], axis=0)[0]
    title = np.any([look.beyond(levels.confidence[k]) for k, look in looks], axis=0)
    level = np.any([look.level(levels.inner[k]) for k, look in looks], axis=0)
    stop = np.where(claimed[:, :, 0].any(axis=0), looks[0][0] + first[:, 0], len(seen) - 1)
    return _per_study(claimed.any(axis=0), ahead, title, level, stop, seen[0].setups)


def _by_precision(seen: Sequence[_Seen], target: float) -> dict[str, Floats]:
    """Claims at the first look that is sharp enough over titles, else at the last."""
    sharp = np.array([(look.half_over(CONFIDENCE).max(axis=1) <= target) & look.noise_known for look in seen])
    sharp[-1] = True
    stop = sharp.argmax(axis=0)

    def at_stop(found: Sequence[Bools]) -> Bools:
        return np.asarray(np.stack(found)[stop, np.arange(stop.size)])

    halves = [look.half_over(CONFIDENCE) for look in seen]
    claimed = at_stop([np.abs(look.over_error) > half for look, half in zip(seen, halves, strict=True)])
    ahead = at_stop([look.over_error > half for look, half in zip(seen, halves, strict=True)])
    title, level = at_stop([look.beyond(CONFIDENCE) for look in seen]), at_stop([look.level(INNER_CONFIDENCE) for look in seen])
    return _per_study(claimed, ahead, title, level, stop, seen[0].setups)


def _per_study(
    claimed: Bools, ahead: Bools, title: Bools, level: Bools, stop: npt.NDArray[np.intp], setups: int
) -> dict[str, Floats]:
    pairs = setups * (setups - 1) // 2
    return {
        "over": claimed.mean(axis=1),
        "ahead": ahead.mean(axis=1),
        "title": title.reshape(len(title), -1, pairs).any(axis=2).mean(axis=1),
        "level": level.mean(axis=1),
        "visits": stop + float(FIRST_LOOK),
    }


def _claims(parts: Sequence[Mapping[str, Floats]]) -> Claims:
    whole = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    visits = float(whole.pop("visits").mean())
    return Claims(**{name: _share(values) for name, values in whole.items()}, visits=visits)


def _share(per_study: Floats) -> Share:
    return Share(float(per_study.mean()), float(per_study.std(ddof=1) / math.sqrt(per_study.size)))
