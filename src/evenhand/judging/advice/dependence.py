"""What depends on which titles are in a study: each verdict over titles, and the setup that is named.

>>> from evenhand.judging.advice.dependence import title_dependence
>>> title_dependence(table, judgement, ("average",)).over[0].turn.titles         # doctest: +SKIP
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.subsets import Field, Halves, against_baseline, field_of, halves_over, verdicts_over
from evenhand.judging.advice.turning import ALL_UP_TO, Answer, smallest_turn, without
from evenhand.judging.analysis import analyse
from evenhand.judging.decide import VERDICTS
from evenhand.judging.model import (
    GroupAnswer,
    Judgement,
    OverDependence,
    ResponseGroup,
    SetupDependence,
    TitleDependence,
)
from evenhand.judging.pairs import pairs_of
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

SAMPLES = 500
SEED = 20_26
#: From as many sets on, only those are worked out whose verdict a slightly wider or narrower interval could change.
MANY = 1500
#: Half-widths that change by more than this (as a logarithm) when two titles are left out are all worked out.
STEADY = 0.2


def title_dependence(
    table: object, judgement: Judgement, measures: Sequence[str], samples: int = SAMPLES, seed: int = SEED
) -> TitleDependence:
    """How the verdicts over titles, of each setup against the baseline in `measures`, depend on the titles.

    table : as `judge` takes it; judgement : its judgement. The noise stays that of all titles (`subsets`). The same seed gives
    the same answer. Raises what `judge` raises of a table.
    """
    runs, design = read_runs(table, judgement.design), judgement.design
    found: list[OverDependence] = []
    for key in measures:
        judged = judgement.measures.get(key)
        if judged is not None:
            field = field_of(analyse(visit_means(runs, judged.measure, design), design, judged.rounds_used))
            drawn = resampled(len(runs.titles), samples, seed)
            found += [
                _over(field, p, drawn) for p in against_baseline(field) if field.analysis.told and field.has[:, p].sum() > 1
            ]
    return TitleDependence(tuple(found), None, samples)


def resampled(titles: int, samples: int, seed: int) -> Floats:
    """(samples, T): how often each title counts where as many titles are drawn with replacement (Efron 1979)."""
    return np.random.default_rng(seed).multinomial(titles, np.full(titles, 1.0 / titles), samples).astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class VerdictsOver:
    """The verdict of one pair over any choice of titles. Half-widths hardly depend on which titles are left out; where many sets
    are asked for, those whose verdict is the same at both ends of the half-widths to be expected are not worked out further.
    """

    field: Field
    pair: int

    def __call__(self, kept: Floats) -> Ints:
        """(B,): places in `VERDICTS`, for how often each title counts (B, T)."""
        estimate = np.nan_to_num(self.field.over(kept, slice(self.pair, self.pair + 1))[:, 0])
        codes, open_rows = self._foreseen(kept, estimate)
        rows = np.flatnonzero(open_rows)
        if rows.size:
            codes[rows] = verdicts_over(self.field, estimate[rows], halves_over(self.field, kept[rows], self.pair))
        return codes

    def _foreseen(self, kept: Floats, estimate: Floats) -> tuple[Ints, Bools]:
        """(codes, rows that must be worked out)."""
        none = np.zeros(len(kept), dtype=np.intp)
        if len(kept) < MANY or kept.max() > 1 or (kept == 0).sum(axis=1).max() > ALL_UP_TO:
            return none, np.ones(len(kept), dtype=bool)
        titles = kept.shape[1]
        sets = np.concatenate([np.ones((1, titles)), without(titles, list(combinations(range(titles), ALL_UP_TO - 1)))])
        found = halves_over(self.field, sets, self.pair)
        moved = max(float(np.abs(np.log(half / half[0])).max()) for half in (found.these, found.inner))
        if not moved <= STEADY:
            return none, np.ones(len(kept), dtype=bool)
        low, high = math.exp(-ALL_UP_TO * moved - 1e-9), math.exp(ALL_UP_TO * moved + 1e-9)
        narrow, wide = (
            verdicts_over(
                self.field, estimate, Halves(np.full(len(kept), found.these[0] * by), np.full(len(kept), found.inner[0] * by))
            )
            for by in (low, high)
        )
        return narrow, narrow != wide


def _over(field: Field, pair: int, drawn: Floats) -> OverDependence:
    design, names = field.analysis.design, field.analysis.visits.titles
    setup, against = (design.setups[c] for c in pairs_of(design)[pair])
    among = np.flatnonzero(field.has[:, pair])
    verdict = VerdictsOver(field, pair)
    every = np.ones((1, len(names)))
    estimate, shown = float(field.over(every)[0, pair]), int(verdict(every)[0])
    rest = field.over(without(len(names), among[:, None]))[:, pair]
    most = int(np.argmax(np.abs(rest - estimate)))
    order = among[np.argsort(field.estimate[among, pair], kind="stable")]
    turn, alone = smallest_turn(verdict, names, among, (order, order[::-1]), lambda code: VERDICTS[code].value)
    return OverDependence(
        measure=field.analysis.measure.key,
        setup=setup,
        against=against,
        estimate=estimate,
        verdict=VERDICTS[shown],
        most=names[among[most]],
        without=float(rest[most]),
        turns=tuple(names[t] for t in alone),
        turn=turn,
        same=float((verdict(drawn) == shown).mean()),
    )


def setup_dependence(
    answer: Answer,
    names: Sequence[str],
    setups: Sequence[str],
    gains: Floats,
    groups: Sequence[ResponseGroup],
    samples: int = SAMPLES,
    seed: int = SEED,
) -> SetupDependence:
    """How the setup that `answer` names, as a place in `setups`, depends on the titles `names` (T,).

    gains : (T, C), better direction positive, NaN where absent; they tell which titles bear the answer most.
    """
    titles = len(names)
    shown = int(answer(np.ones((1, titles)))[0])
    lead = np.nan_to_num(gains[:, [shown]] - gains)
    orders = [np.argsort(-lead[:, c], kind="stable") for c in range(len(setups)) if c != shown]
    turn, alone = smallest_turn(answer, names, np.arange(titles), orders, lambda code: setups[code])
    named = answer(resampled(titles, samples, seed))
    shares = [(setups[c], float((named == c).mean())) for c in range(len(setups)) if (named == c).any()]
    own = np.array([[name in group.titles for name in names] for group in groups], dtype=np.float64).reshape(-1, titles)
    known = [(g, row) for g, row in zip(groups, own, strict=True) if row.any()]
    codes = answer(np.array([row for _, row in known])) if known else np.zeros(0, dtype=np.intp)
    return SetupDependence(
        setup=setups[shown],
        turns=tuple(names[t] for t in alone),
        turn=turn,
        shares=tuple(sorted(shares, key=lambda s: -s[1])),
        by_group=tuple(GroupAnswer(g.kind, g.titles, setups[int(c)]) for (g, _), c in zip(known, codes, strict=True)),
    )
