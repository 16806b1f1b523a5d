"""The smallest set of titles that turns an answer: any answer that can be given for many sets of votes at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from itertools import combinations
from math import comb

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.answers import ALL_UP_TO, Answer, without
from evenhand.judging.model import Turn

Ints = npt.NDArray[np.intp]


def smallest_turn(
    answer: Answer, names: Sequence[str], among: Ints, orders: Iterable[Ints], words: Callable[[int], str]
) -> tuple[Turn, Ints]:
    """(the turn, the titles that turn the answer alone).

    names : (T,). among : titles that count in the answer. orders : in each, the titles of `among` in the order in which they are
    left out where sets are too large to be all looked at. words : the answer of a code.
    """
    titles, limit = len(names), among.size // 2
    shown = int(answer(np.ones((1, titles)))[0])
    alone = np.zeros(0, dtype=np.intp)
    for size in range(1, min(ALL_UP_TO, limit) + 1):
        sets = _sets(tuple(among.tolist()), size)
        codes = answer(without(titles, sets))
        turned = np.flatnonzero(codes != shown)
        alone = sets[turned, 0] if size == 1 else alone
        if turned.size:
            first = turned[0]
            return Turn(_named(names, sets[first]), words(int(codes[first])), turned.size, size - 1, limit), alone
    proven = min(ALL_UP_TO, limit)
    found = _along(answer, titles, [order[:limit] for order in orders], proven, shown)
    if found is None:
        return Turn((), "", 0, proven, limit), alone
    return Turn(_named(names, np.sort(found[0])), words(found[1]), 0, proven, limit), alone


@lru_cache(maxsize=8)
def _sets(among: tuple[int, ...], size: int) -> Ints:
    flat = np.fromiter((i for c in combinations(among, size) for i in c), np.intp, comb(len(among), size) * size)
    return flat.reshape(-1, size)


def _along(answer: Answer, titles: int, orders: Sequence[Ints], proven: int, shown: int) -> tuple[Ints, int] | None:
    """(titles, code) of the shortest beginning of an order that turns the answer."""
    starts = sorted((order[:size] for order in orders for size in range(proven + 1, order.size + 1)), key=len)
    if not starts:
        return None
    kept = np.array([without(titles, start[None])[0] for start in starts])
    codes = answer(kept)
    turned = np.flatnonzero(codes != shown)
    return (starts[turned[0]], int(codes[turned[0]])) if turned.size else None


def _named(names: Sequence[str], which: Ints) -> tuple[str, ...]:
    return tuple(names[i] for i in which.tolist())
