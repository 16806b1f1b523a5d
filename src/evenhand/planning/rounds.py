"""The order of visits: rounds that hold each setup once, counterbalanced."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.planning.squares import williams

Ints = npt.NDArray[np.intp]

#: Orders of the rounds that are compared; all of them where there are no more.
TRIED = 1000


@dataclass(frozen=True, slots=True)
class Balance:
    """How well an order of rounds is balanced; 0 is best in each.

    repeats : rounds that begin with the setup that ended the last. drift : largest difference between two setups in their mean
    place within a round, in places: what a slow warming in each round would be mistaken for. follows : largest less smallest
    number of times that one setup comes right after another.
    """

    repeats: int
    drift: float
    follows: int

    @property
    def order(self) -> tuple[float, ...]:
        """Smaller is better."""
        return self.repeats, round(self.drift, 9), self.follows


def balance(rounds: Ints) -> Balance:
    """Of `rounds` (R, C), each row the setups' numbers in the order of the visits."""
    count, setups = rounds.shape
    places = np.empty((count, setups))
    np.put_along_axis(places, rounds, np.arange(setups, dtype=float)[None, :], axis=1)
    mean = places.mean(axis=0)
    one_row = rounds.reshape(-1)
    pairs = np.zeros((setups, setups), dtype=np.intp)
    np.add.at(pairs, (one_row[:-1], one_row[1:]), 1)
    apart = pairs[~np.eye(setups, dtype=bool)]
    repeats = int((rounds[1:, 0] == rounds[:-1, -1]).sum())
    return Balance(repeats, float(np.ptp(mean)) if setups > 1 else 0.0, int(np.ptp(apart)) if apart.size else 0)


def rounds_of(setups: int, count: int, seed: int) -> Ints:
    """(count, setups): `count` rounds of `setups`, from the rows of Williams squares with the setups' numbers shuffled.

    Whole squares are used as often as they fit; of the rest, and for the order of all, the best balanced of up to `TRIED` choices
    is taken. The same seed gives the same order. Two setups take turns in being first (ABBA), so that one of them is to be
    applied anew between rounds; with one setup every round repeats it.
    """
    rng = np.random.default_rng(seed)
    if setups < 2 or count < 1:
        return np.zeros((count, setups), dtype=np.intp)
    square = williams(setups)
    names = rng.permutation(setups)
    best: Ints | None = None
    for rows in _choices(len(square), count, rng):
        found = names[square[list(rows)]]
        if best is None or balance(found).order < balance(best).order:
            best = found
    assert best is not None
    return best


def _choices(rows: int, count: int, rng: np.random.Generator) -> list[tuple[int, ...]]:
    """Which rows of the square in which order; whole squares first, each row once before any comes again."""
    whole, rest = divmod(count, rows)
    if whole == 0 and _ways(rows, count) <= TRIED:
        ways = list(itertools.permutations(range(rows), count))
        return [ways[i] for i in rng.permutation(len(ways))]
    return [tuple(i for part in (*([rows] * whole), rest) for i in rng.permutation(rows)[:part].tolist()) for _ in range(TRIED)]


def _ways(rows: int, count: int) -> int:
    ways = 1
    for i in range(count):
        ways *= rows - i
    return ways


def scene_orders(scenes: int, rounds: int, seed: int) -> Ints:
    """(rounds, scenes): the order of the scenes in every visit of a round.

    All setups of a round play them in the same order, so that a place in the visit (a warm PC, a launcher's update) is never
    mistaken for a setup; from round to round the rows of a Williams square, the second being the first backwards.
    """
    rng = np.random.default_rng([seed, 1])
    if scenes < 2:
        return np.zeros((rounds, scenes), dtype=np.intp)
    square, names = williams(scenes), rng.permutation(scenes)
    rows = [names[square[i % len(square)]] for i in range((rounds + 1) // 2)]
    both = [order for row in rows for order in (row, row[::-1])]
    return np.array(both[:rounds]).reshape(rounds, scenes)
