"""Which numbers of visits and runs the hours allow, and the numbers that give most precision for the time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from evenhand.planning.minutes import Bill
from evenhand.rehearsal.model import Repetitions, Spreads

#: More counted runs in a visit than this are not offered.
MOST_RUNS: Final = 12
#: More visits of each setup than this are not offered.
MOST_VISITS: Final = 12


def offers(bill: Bill, setups: int, warm_up_runs: int, hours: float) -> list[tuple[int, int]]:
    """(visits, counted runs) for every number of visits that the hours allow, each with as many runs as fit."""
    found = []
    for visits in range(1, MOST_VISITS + 1):
        runs = min(bill.most_runs(setups, visits, hours) - warm_up_runs, MOST_RUNS)
        if runs >= 1:
            found.append((visits, runs))
    return found


def unbiased_parts(mean_squares: Sequence[float], repetitions: Sequence[float]) -> tuple[float, ...]:
    """T_i² of Kalibera & Jones (2013, revised): the variance that each level adds, lowest level first.

    mean_squares : S_i², variance of the means of level i within those of level i + 1. repetitions : r_i, of every level but the
    last at least. T_1² = S_1², T_i² = S_i² − S_{i−1}² / r_{i−1}; not above 0 where the level adds nothing that can be seen.
    """
    below = [0.0, *(s / r for s, r in zip(mean_squares[:-1], repetitions, strict=False))]
    return tuple(s - b for s, b in zip(mean_squares, below, strict=True))


def optimal_counts(parts: Sequence[float], costs: Sequence[float]) -> tuple[float, ...]:
    """r_i = √(c_{i+1} / c_i · T_i² / T_{i+1}²) of every level but the highest, not rounded; the paper rounds up.

    parts : T_i², lowest level first. costs : of one more repetition at each level, without those below it. A level that adds
    nothing (T_i² <= 0) is not worth repeating: 0; where the level above it adds nothing, that one is not: infinite.
    """
    found = []
    for here, above, cheap, dear in zip(parts[:-1], parts[1:], costs[:-1], costs[1:], strict=True):
        if here <= 0:
            found.append(0.0)
        else:
            found.append(math.sqrt(dear / cheap * here / above) if above > 0 else math.inf)
    return tuple(found)


def repetitions(spreads: Spreads, bill: Bill, titles: int, scenes: int) -> Repetitions:
    """Runs in a visit that give most precision for the time, for a title's own comparison and for the mean over titles.

    A run of a title has `scenes` / `titles` scenes, which thin its noise out. Costs are a title's share of the visit; over titles
    the visit's shared shift weighs as many times as much as there are titles.
    """
    run = spreads.run**2 * titles / scenes
    levels = bill.scenes / titles, bill.visit / titles
    at_title = optimal_counts((run, spreads.title**2 + spreads.visit**2), levels)
    over = optimal_counts((run, spreads.title**2 + titles * spreads.visit**2), levels)
    return Repetitions(at_title[0], over[0])
