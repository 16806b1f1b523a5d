"""The kinds of study that are counted: a fraction of all combinations, the same every time, in which each value of each dimension
meets many values of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.rehearsal.simulate import Truth

TITLES = (1, 2, 4, 8, 20, 40)
SETUPS = (2, 3, 4, 6)
VISITS = (2, 3, 4)
VISIT_SHIFTS = (0.0, 0.01, 0.03, 0.06, 0.12)
RUNS_AND_NOISE = ((1, 0.005), (1, 0.01), (2, 0.03), (3, 0.10), (3, 0.15))
EFFECT_SPREADS = (0.0, 0.02, 0.08)
TITLE_SHIFT = 0.005
ROUND_SHIFT = 0.05
#: Fewer degrees of freedom than this for the visits, and judging has no term for rounds unless told to.
LEAST_ROUND_DF = 2


@dataclass(frozen=True, slots=True)
class GridCell:
    """One kind of study and how it is analysed. note : what sets it apart from a complete study of like setups and titles."""

    truth: Truth
    rounds: bool
    seed: int
    note: str = ""


def grid(seed: int = 1000) -> tuple[GridCell, ...]:
    """Complete studies, then studies with gaps, with noise unlike between titles or setups, with heavy tails, and one that
    judging would not analyse so by itself (two setups in two rounds).
    """
    rng = np.random.default_rng(seed)
    kinds = [*_complete(rng), *_special(rng), (Truth(8, 2, 2, 2, 0.03, 0.01, TITLE_SHIFT), True, "one degree of freedom")]
    return tuple(
        GridCell(replace(truth, round_shift=ROUND_SHIFT if rounds else 0.0), rounds, seed + i, note)
        for i, (truth, rounds, note) in enumerate(kinds)
    )


def few(cells: Sequence[GridCell], count: int) -> tuple[GridCell, ...]:
    """`count` of the cells, evenly spread over the grid."""
    return tuple(cells[i] for i in np.unique(np.linspace(0, len(cells) - 1, count).round().astype(int)))


def _complete(rng: np.random.Generator) -> list[tuple[Truth, bool, str]]:
    """Titles × visits × visit shifts in full, twice; setups, runs and their noise, titles' effects and the analysis dealt out."""
    main = [(t, v, s) for _ in range(2) for t in TITLES for v in VISITS for s in VISIT_SHIFTS]
    setups, noise, effects = (_dealt(rng, len(values), len(main)) for values in (SETUPS, RUNS_AND_NOISE, EFFECT_SPREADS))
    kinds = []
    half = len(main) // 2
    for i, (titles, visits, shift) in enumerate(main):
        runs, run_noise = RUNS_AND_NOISE[noise[i]]
        spread = EFFECT_SPREADS[effects[i]]
        truth = Truth(titles, SETUPS[setups[i]], visits, runs, run_noise, shift, TITLE_SHIFT, effect_spread=spread)
        kinds.append((truth, (i + i // half) % 2 == 0 and _rounds_usable(truth), ""))
    return kinds


def _special(rng: np.random.Generator) -> list[tuple[Truth, bool, str]]:
    """Every departure at four numbers of titles and two visit shifts; visits, setups and the analysis dealt out."""
    main = [(t, s) for t in TITLES[2:] for s in VISIT_SHIFTS[1:4:2]]
    names = tuple(_departures(Truth(4, 4, 2, 2, 0.03, 0.0)))
    kinds = []
    for name in names:
        visits, setups, effects = (_dealt(rng, len(values), len(main)) for values in (VISITS, SETUPS[1:], EFFECT_SPREADS))
        for i, (titles, shift) in enumerate(main):
            spread = EFFECT_SPREADS[effects[i]]
            base = Truth(titles, SETUPS[1:][setups[i]], VISITS[visits[i]], 2, 0.03, shift, TITLE_SHIFT, effect_spread=spread)
            truth = _departures(base)[name]
            kinds.append((truth, i % 2 == 0 and _rounds_usable(truth), name))
    return kinds


def _departures(base: Truth) -> dict[str, Truth]:
    """The ways in which a study differs from a complete one of like setups and titles."""
    visits, alike = base.visits_of, (1.0,) * (base.setups - 1)
    return {
        "a visit missing": replace(base, absent=((0, 1, 0),)),
        "a cell missing": replace(base, absent=((0, 1, None),)),
        "two cells and a visit missing": replace(base, absent=((0, 1, None), (2, 0, None), (3, 2, 1))),
        "one setup a visit more": replace(base, visits=(*visits[:-1], visits[-1] + 1)),
        "titles' run noise unlike, log spread 0.3": replace(base, unlike=0.3),
        "titles' run noise unlike, log spread 0.8": replace(base, unlike=0.8),
        "t noise, 5 df": replace(base, tails=5.0),
        "last setup's run noise twice": replace(base, setup_noise=(*alike, 2.0)),
        "last setup's run noise five times": replace(base, setup_noise=(*alike, 5.0)),
        "last setup's visit shift three times": replace(base, setup_shift=(*alike, 3.0)),
        "last setup's run noise and visit shift twice": replace(base, setup_noise=(*alike, 2.0), setup_shift=(*alike, 2.0)),
        "t effects, 3 df": replace(base, effect_spread=0.03, effect_tails=3.0),
        "last setup collapses at a tenth of titles": replace(base, effect_spread=0.01, collapse=0.3, collapse_share=0.1),
    }


def _dealt(rng: np.random.Generator, values: int, count: int) -> list[int]:
    """`count` indices of `values` values, each as often as the others but for one, in random order."""
    return [int(i) for i in rng.permutation(np.resize(np.arange(values), count))]


def _rounds_usable(truth: Truth) -> bool:
    """Whether judging would have a term for rounds by itself."""
    alike = len(set(truth.visits_of)) == 1
    return alike and (truth.setups - 1) * (max(truth.visits_of) - 1) >= LEAST_ROUND_DF
