"""The least that must be done again so that no two of what is left are at odds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

T = TypeVar("T")


def least_to_redo(members: Sequence[T], odds: Mapping[T, set[T]], runs: Mapping[T, int]) -> frozenset[T]:
    """The fewest members without whom nobody is at odds; of several such sets that with the fewest runs, then the earliest ones.

    odds : who is at odds with whom, both ways. This is the smallest vertex cover, by branch and bound; where members fall into
    states that exclude one another, all but the most frequent state.
    """
    place = {member: i for i, member in enumerate(members)}

    def cost(chosen: frozenset[T]) -> tuple[int, int, tuple[int, ...]]:
        return len(chosen), sum(runs.get(m, 0) for m in chosen), tuple(sorted(place[m] for m in chosen))

    def search(chosen: frozenset[T], best: frozenset[T] | None) -> frozenset[T] | None:
        left = {m: odds.get(m, set()) - chosen for m in members if m not in chosen}
        most = max(left, key=lambda m: (len(left[m]), -place[m]), default=None)
        if most is None or not left[most]:
            return chosen if best is None or cost(chosen) < cost(best) else best
        if best is not None and len(chosen) + 1 > len(best):
            return best
        for added in (left[most], {most}):
            best = search(chosen | added, best)
        return best

    return search(frozenset(), None) or frozenset()
