"""Intervals and verdicts counted on simulated studies. The fast part holds nine kinds of study with 1500 studies each (seeds
fixed); the slow part the whole first grid, against the list of misses in docs/methods/calibration.md.
"""

import pytest

from evenhand.rehearsal.calibration import TARGETS, first_grid, misses, run
from evenhand.rehearsal.count import count
from evenhand.rehearsal.simulate import Truth

FAST = {
    "8 titles": (Truth(8, 4, 2, 2, 0.03, 0.01, 0.005), False),
    "8 titles, rounds": (Truth(8, 4, 3, 2, 0.03, 0.03, 0.005, round_shift=0.05), True),
    "8 titles, shift rules": (Truth(8, 4, 2, 1, 0.01, 0.10, 0.005), False),
    "8 titles, a cell missing": (Truth(8, 4, 3, 2, 0.03, 0.03, 0.005, absent=((0, 1, None),)), False),
    "8 titles, t noise": (Truth(8, 4, 3, 2, 0.03, 0.03, 0.005, tails=5.0), False),
    "20 titles, runs rule": (Truth(20, 4, 3, 3, 0.10, 0.0, 0.005), False),
    "20 titles, 6 setups, rounds": (Truth(20, 6, 2, 2, 0.03, 0.01, 0.005, round_shift=0.05), True),
    "40 titles, 2 setups": (Truth(40, 2, 3, 2, 0.03, 0.01, 0.005), False),
    "1 title": (Truth(1, 4, 3, 2, 0.03, 0.03, 0.005), False),
}


@pytest.mark.parametrize("kind", FAST)
def test_intervals_cover_and_verdicts_hold(kind):
    """Targets as the calibration page states them, with two Monte Carlo standard errors on either side."""
    truth, rounds = FAST[kind]
    assert misses(count(truth, 1500, 77, rounds)) == ()


def test_pooling_all_runs_does_not_cover():
    """The reason for all this: visits that shift by 3 % and three runs in each."""
    counts = count(Truth(20, 4, 2, 3, 0.01, 0.03, 0.005), 300, 5)
    assert counts.pooled_title.value < 0.70 and counts.pooled_over.value < 0.30
    assert counts.title.value > 0.93 and counts.over.value > 0.92


def test_a_target_is_missed_beyond_chance_only():
    target = next(t for t in TARGETS if t.name == "family")
    counts = count(Truth(4, 3, 2, 1, 0.01, 0.01), 200, 3)
    share = counts.family.__class__
    assert target.misses(share(0.93, 0.004)) and not target.misses(share(0.93, 0.006))


@pytest.mark.slow
def test_the_whole_first_grid_covers_too_much_rather_than_too_little():
    """Every cell's intervals cover at least 93 % (94 % familywise) and no false verdict is too frequent; what covers more than
    97 % is listed on the page.
    """
    cells = first_grid()
    for cell, counts in zip(cells, run(cells, 1000), strict=True):
        too_little = [what for t, what in zip(TARGETS, map(str, TARGETS), strict=True) if low_side(t, getattr(counts, t.name))]
        assert not too_little, (cell, too_little)


def low_side(target, share):
    """Misses on the side that harms: covering too little, false verdicts too often."""
    slack = 3 * share.error
    if target.high == 0.97 or target.name == "family":
        return share.value < target.low - slack
    return share.value > target.high + slack
