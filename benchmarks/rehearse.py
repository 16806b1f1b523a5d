"""Time to rehearse 40 titles × 4 setups × 3 visits × 2 runs in 2000 simulated studies, as a multiple of numpy drawing the same
values in the same run.

Bound: under 60 s on 2 cores. Each study gets the verdicts of all pairs at all titles and over titles; the hours' alternatives and
the visits needed are in it too. Before recording for one measure, then after recording with all its open verdicts.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from evenhand.judging.analysis import analyse
from evenhand.judging.judge import judge
from evenhand.judging.model import Design
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.model import Plan, Spreads
from evenhand.rehearsal.rehearse import STUDIES, Asked, Wishes, rehearse
from evenhand.rehearsal.simulate import Truth, rows, simulate

TITLES, SETUPS, VISITS, RUNS = 40, 4, 3, 2
TRUTH = Truth(TITLES, SETUPS, VISITS, RUNS, run_noise=0.02, visit_shift=0.01, title_shift=0.005, effect_spread=0.02)
SPREADS = Spreads(0.02, 0.005, 0.01, 0.0, "stated")


def seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def drawn() -> None:
    """A random number for each run of each study."""
    np.random.default_rng(1).standard_normal((STUDIES, TITLES, SETUPS, VISITS, RUNS))


def recorded(margin: float) -> Asked:
    measure = CATALOGUE["average"]
    names = tuple(f"s{i + 1}" for i in range(SETUPS))
    design = Design(names, names[0], (measure,))
    table = rows(simulate(TRUTH, np.random.default_rng(1)), 0, measure.key)
    shown = judge(table, design).measures[measure.key]
    analysis = analyse(visit_means(read_runs(table, design), measure, design), design, shown.rounds_used)
    return Asked(measure, margin, SPREADS, analysis, shown)


def main() -> None:
    names = tuple(f"s{i + 1}" for i in range(SETUPS))
    titles = tuple(f"t{i + 1}" for i in range(TITLES))
    plan = Plan(titles, names, names[0], (1,) * TITLES, (60.0,) * TITLES, VISITS, RUNS, 0, None, (1.0,) * TITLES)
    after = recorded(0.0296)
    before = Asked(after.measure, after.margin, SPREADS)
    plain = min(seconds(drawn) for _ in range(3))
    ahead = seconds(lambda: rehearse(plan, [before], Wishes()))
    behind = seconds(lambda: rehearse(plan, [after], Wishes()))
    print(f"rehearse {STUDIES} studies of {TITLES} × {SETUPS} × {VISITS} × {RUNS}: {ahead:.1f} s before recording (bound 60 s)")
    print(f"the same after recording, with what settles its open verdicts: {behind:.1f} s (bound 60 s)")
    print(f"numpy drawing the same {STUDIES * TITLES * SETUPS * VISITS * RUNS} values: {plain:.3f} s, ratio {ahead / plain:.0f}")


if __name__ == "__main__":
    main()
