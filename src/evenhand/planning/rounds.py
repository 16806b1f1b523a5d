"""The order of visits: rounds that hold each setup once, counterbalanced."""

from __future__ import annotations

import itertools
import math
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


def balance(rounds: Ints) -> Balance:
    """Of `rounds` (R, C), each row the setups' numbers in the order of the visits."""
    repeats, drift, follows = _balances(rounds[None])
    return Balance(int(repeats[0]), float(drift[0]), int(follows[0]))


def _balances(rounds: Ints) -> tuple[Ints, npt.NDArray[np.float64], Ints]:
    """The three figures of `Balance` of K orders (K, R, C), each (K,)."""
    orders, _, setups = rounds.shape
    if setups < 2:
        none = np.zeros(orders, dtype=np.intp)
        return np.full(orders, rounds.shape[1] - 1, dtype=np.intp), none.astype(float), none
    drift = np.ptp(np.argsort(rounds, axis=2).mean(axis=1), axis=1)
    one_row = rounds.reshape(orders, -1)
    pair = one_row[:, :-1] * setups + one_row[:, 1:] + setups**2 * np.arange(orders)[:, None]
    counts = np.bincount(pair.reshape(-1), minlength=orders * setups**2).reshape(orders, setups, setups)
    follows = np.ptp(counts[:, ~np.eye(setups, dtype=bool)], axis=1)
    repeats = (rounds[:, 1:, 0] == rounds[:, :-1, -1]).sum(axis=1)
    return np.asarray(repeats), np.asarray(drift.round(9)), np.asarray(follows)


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
    orders = names[square[_choices(len(square), count, rng)]]
    repeats, drift, follows = _balances(orders)
    return np.asarray(orders[np.lexsort((follows, drift, repeats))[0]])


def _choices(rows: int, count: int, rng: np.random.Generator) -> Ints:
    """(K, count): which rows of the square in which order; whole squares first, each row once before any comes again."""
    if count <= rows and math.perm(rows, count) <= TRIED:
        return rng.permutation(np.array(list(itertools.permutations(range(rows), count)), dtype=np.intp))
    squares = -(-count // rows)
    shuffled = rng.permuted(np.broadcast_to(np.arange(rows), (TRIED, squares, rows)), axis=2)
    return np.asarray(shuffled.reshape(TRIED, -1)[:, :count])


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
