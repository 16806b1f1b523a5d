"""Which k of the titles: what a choice is worth, and the search for the best one.

Derivation: docs/methods/thinning.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.subsets import Field
from evenhand.stats.meta import random_effects

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: As many choices are all looked at; more are searched.
MOST_CHOICES = 60_000
STARTS = 12
#: What a response group (or a pair of setups) without a title costs, beyond any error in margins.
MISSING = 1e6
#: An exchange that gains no more than this, in squared margins, is none.
NO_GAIN = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """What a choice of T titles is worth, over K contrasts of all measures, each in units of its margin.

    pooled : (T, K), the titles' contrasts drawn towards each other (0 where lacking). has : (T, K). doubt : (T, K), variance left
    in them. again : (T, K), variance of a title's own noise in the next study. weights : (T,). groups : (T, G), membership.
    """

    pooled: Floats
    has: Bools
    doubt: Floats
    again: Floats
    weights: Floats
    groups: Bools

    def squared(self, chosen: Bools) -> Floats:
        """(B, K): expected squared error of the next study, with the chosen titles (B, T) alone, against all titles; infinite
        where the choice lacks a contrast.
        """
        w = self.weights
        there = w[:, None] * self.has
        everywhere = there / np.maximum(there.sum(axis=0), 1e-300)
        target = (everywhere * self.pooled).sum(axis=0)
        total = chosen @ there
        share = np.divide(1.0, total, out=np.zeros_like(total), where=total > 0)
        error = share * (chosen @ (there * self.pooled)) - target
        spread = share**2 * (chosen @ (w[:, None] * there * (self.doubt + self.again)))
        common = -2.0 * share * (chosen @ (there * everywhere * self.doubt)) + (everywhere**2 * self.doubt).sum(axis=0)
        lacking = (total == 0) & self.has.any(axis=0)
        return np.asarray(np.where(lacking, np.inf, error**2 + spread + common))

    def cost(self, chosen: Bools) -> Floats:
        """(B,): mean of `squared`, with a price on each contrast that the choice lacks, and on each response group that it lacks
        though its share of the titles is that of one title kept. Smaller groups are not forced in: they would count for too much.
        """
        due = np.multiply.outer(chosen.sum(axis=1), self.groups.sum(axis=0)) >= self.has.any(axis=1).sum()
        lacking = (due & self.absent(chosen)).sum(axis=1)
        return np.asarray(np.minimum(self.squared(chosen), MISSING).mean(axis=1) + MISSING * lacking)

    def absent(self, chosen: Bools) -> Bools:
        """(B, G): response groups without a chosen title."""
        return np.asarray(chosen @ self.groups.astype(np.float64) == 0)


def worth_of(fields: Sequence[Field], seen: Sequence[Field], groups: Bools) -> Worth:
    """The worth by what `seen` holds (some visits of the study or all), for a next study with the visits of `fields`."""
    pooled, doubt, again, has = [], [], [], []
    for whole, part in zip(fields, seen, strict=True):
        unit = whole.unit
        for pair in range(whole.has.shape[1]):
            there = part.has[:, pair] & whole.has[:, pair]
            value, left = _pooled(part.estimate[:, pair], part.own[:, pair], there)
            pooled.append(value / unit)
            doubt.append(left / unit**2)
            again.append(np.where(there, whole.own[:, pair], 0.0) / unit**2)
            has.append(there)
    columns = (np.array(pooled).T, np.array(has).T, np.array(doubt).T, np.array(again).T)
    return Worth(*columns, fields[0].weights, groups)


def _pooled(estimate: Floats, own: Floats, there: Bools) -> tuple[Floats, Floats]:
    """(drawn towards the mean, variance left) of each title, 0 where lacking; as they are where the noise was not seen."""
    value, left = np.where(there, estimate, 0.0), np.zeros_like(own)
    if there.sum() < 2 or not own[there].any():
        return value, left
    y = estimate[there]
    v = np.maximum(own[there], 1e-12 * float(np.ptp(y)) ** 2 + 1e-24)
    found = random_effects(y, v)
    value[there] = found.shrunken
    left[there] = found.tau2 * v / (found.tau2 + v)
    return value, left


def best_choice(worth: Worth, keep: int, among: Bools, seed: int) -> tuple[Bools, bool]:
    """((T,), whether it is surely the best) of `keep` of the titles `among` (T,).

    Every choice where there are few; else greedily, and from seeded random choices, exchanging one title for another while that
    helps. The same seed gives the same choice.
    """
    places = np.flatnonzero(among)
    if comb(places.size, keep) <= MOST_CHOICES:
        chosen = np.zeros((comb(places.size, keep), among.size), dtype=bool)
        every = np.fromiter((i for c in combinations(places.tolist(), keep) for i in c), np.intp).reshape(-1, keep)
        np.put_along_axis(chosen, every, True, axis=1)
        return chosen[int(np.argmin(worth.cost(chosen)))], True
    rng = np.random.default_rng([seed, keep])
    starts = [_greedy(worth, keep, among), *random_choices(rng, STARTS, keep, among)]
    ends = np.array([_exchanged(worth, start, among) for start in starts])
    return ends[int(np.argmin(worth.cost(ends)))], False


def random_choices(rng: np.random.Generator, count: int, keep: int, among: Bools) -> Bools:
    """(count, T): choices of `keep` of the titles `among`, all alike likely."""
    order = np.where(among, rng.random((count, among.size)), np.inf).argsort(axis=1)
    chosen = np.zeros((count, among.size), dtype=bool)
    np.put_along_axis(chosen, order[:, :keep], True, axis=1)
    return chosen


def _greedy(worth: Worth, keep: int, among: Bools) -> Bools:
    """From all titles, leaving out the one that costs least, until `keep` are left."""
    chosen = among.copy()
    while chosen.sum() > keep:
        places = np.flatnonzero(chosen)
        tried = np.repeat(chosen[None], places.size, axis=0)
        tried[np.arange(places.size), places] = False
        chosen = tried[int(np.argmin(worth.cost(tried)))]
    return chosen


def _exchanged(worth: Worth, start: Bools, among: Bools) -> Bools:
    """Best exchange of one title for another, again and again until none helps."""
    chosen, cost = start, float(worth.cost(start[None])[0])
    while True:
        inside, outside = np.flatnonzero(chosen), np.flatnonzero(among & ~chosen)
        if not outside.size:
            return chosen
        out, into = (a.ravel() for a in np.meshgrid(inside, outside, indexing="ij"))
        tried = np.repeat(chosen[None], out.size, axis=0)
        swap = np.arange(out.size)
        tried[swap, out], tried[swap, into] = False, True
        costs = worth.cost(tried)
        best = int(np.argmin(costs))
        if not costs[best] < cost - NO_GAIN:
            return chosen
        chosen, cost = tried[best], float(costs[best])
