"""How well two figures foretell when an open verdict is settled: the chances of a rehearsal, and the quick number of `judge`.

Studies with known truth are judged, their open verdicts foretold, and further visits drawn from the same truth. Printed: of the
verdicts that a rehearsal gave some chance, how many were settled; of those with either number of visits, how many were by then.
The table in docs/methods/rehearsal.md is of 60 studies.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from dataclasses import replace

import numpy as np

from evenhand.judging.analysis import analyse
from evenhand.judging.judge import judge
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.planned import MOSTLY_LEVEL, judged, mixed, pairs_of
from evenhand.rehearsal.settling import MOST_FURTHER, open_verdicts
from evenhand.rehearsal.simulate import Truth, rows, simulate

DRAWS = 200
MEASURE = CATALOGUE["average"]
MARGIN = math.log1p(MEASURE.margin)
KINDS = {
    "2 visits, run noise 3 %": Truth(8, 4, 2, 2, run_noise=0.03, visit_shift=0.01, title_shift=0.01),
    "3 visits, run noise 3 %": Truth(8, 4, 3, 2, run_noise=0.03, visit_shift=0.01, title_shift=0.01),
    "3 visits, visit shift 3 %": Truth(8, 4, 3, 2, run_noise=0.02, visit_shift=0.03, title_shift=0.005),
}


def foretold(truth: Truth, seed: int) -> list[tuple[tuple[float, ...], int | None, int | None, np.ndarray]]:
    """(chances, visits needed, quick number, settled after 1 ... further visits) of every open verdict of one study."""
    longer = replace(truth, visits=truth.visits + MOST_FURTHER)
    drawn = simulate(longer, np.random.default_rng(seed))
    drawn.values[...] += MARGIN * mixed(MOSTLY_LEVEL, drawn.true.shape, 0, seed)[..., None, None]
    names = tuple(f"s{i + 1}" for i in range(truth.setups))
    design = Design(names, names[0], (MEASURE,))
    table = [row for row in rows(drawn, 0, MEASURE.key) if row.visit <= truth.visits]
    shown = judge(table, design).measures[MEASURE.key]
    analysis = analyse(visit_means(read_runs(table, design), MEASURE, design), design, shown.rounds_used)
    opened = open_verdicts(analysis, shown, np.ones(truth.titles), DRAWS, seed)
    later = [settled(drawn.values[..., : truth.visits + n, :], shown.rounds_used) for n in range(1, MOST_FURTHER + 1)]
    return [
        (o.chances, o.visits, o.quick, np.array([now[o.title, frozenset((o.setup, o.against))] for now in later])) for o in opened
    ]


def settled(values: np.ndarray, rounds: bool) -> dict[tuple[str | None, frozenset[str]], bool]:
    """(title or None, both setups) -> whether the verdict is settled."""
    layout = layout_of(np.ones(values.shape[1:4], dtype=bool), rounds)
    pairs = pairs_of(layout, np.ones(values.shape[1]))
    at, over = judged(layout, pairs, layout.pick(values.mean(axis=-1)), 0.95)
    both = [frozenset(f"s{c + 1}" for c in np.flatnonzero(w)) for w in pairs.weights]
    found: dict[tuple[str | None, frozenset[str]], bool] = {
        (f"t{t + 1}", both[p]): bool(s) for t, p, s in zip(pairs.at, pairs.pair, at.settled(MARGIN)[0], strict=True)
    }
    return found | {(None, pair): bool(s) for pair, s in zip(both, over.settled(MARGIN)[0], strict=True)}


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(description="How well it is foretold when an open verdict is settled.")
    parser.add_argument("--studies", type=int, default=100)
    studies = parser.parse_args().studies
    for kind, truth in KINDS.items():
        told = [one for seed in range(studies) for one in foretold(truth, seed)]
        print(f"{kind}: {studies} studies, {len(told)} open verdicts")
        bins = defaultdict(list)
        for chances, _, _, after in told:
            for n in (1, 2, 4):
                bins[n, min(int(chances[n - 1] * 5), 4)].append(bool(after[n - 1]))
        for (n, fifth), held in sorted(bins.items()):
            chance = f"{20 * fifth:>3} to {20 * fifth + 20:>3} %"
            print(f"  chance {chance} after {n} further visits: {np.mean(held):4.0%} settled of {len(held)}")
        for name, place in (("four chances in five", 1), ("judge's quick number", 2)):
            stated = [(one[place], one[3]) for one in told if one[place] is not None and one[place] <= MOST_FURTHER]
            held = [bool(after[n - 1]) for n, after in stated]
            print(f"  {name}: stated for {len(held)}, settled then {np.mean(held):.0%}")


if __name__ == "__main__":
    main()
