"""From a table of runs to a judgement: the one door of this room.

>>> from evenhand.judging.judge import judge
>>> judgement = judge(table, design)                      # doctest: +SKIP
>>> judgement.measures["average"].over[0].verdict         # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from evenhand.errors import JudgingError, Problem
from evenhand.judging.advice.pooling import pooled, with_pooled
from evenhand.judging.analysis import Analysis, analyse
from evenhand.judging.best import against_best
from evenhand.judging.cells import cells, noise_of
from evenhand.judging.compare import measure_disagreements
from evenhand.judging.contrasts import FactorContrast, factor_contrasts
from evenhand.judging.counts import title_counts
from evenhand.judging.effects import effects
from evenhand.judging.layout import complete_rounds
from evenhand.judging.model import Design, Judgement, MeasureJudgement, PooledCells
from evenhand.judging.over import over_titles
from evenhand.judging.pairs import comparisons
from evenhand.judging.table import read_runs
from evenhand.judging.trends import numeric_factors, trends
from evenhand.judging.visits import Visits, visit_means
from evenhand.wording import listed

Bools = npt.NDArray[np.bool_]

#: Rounds are not a term by themselves where they would leave fewer degrees of freedom than this for the noise between visits.
LEAST_ROUND_DF = 2


def judge(table: object, design: Design) -> Judgement:
    """Judge every measure of `design` from the runs in `table`.

    Parameters
    ----------
    table : polars or pandas data frame, list of records or of `Row`, or columns by name; long form with columns title, setup,
        visit, run, measure, value and optionally scene. One row a run and measure, values in natural units; only runs that count.
    design : setups, baseline, factors, measures, margins (see `Design`).

    Raises JudgingError where the table or the design cannot be judged. What can be judged only in part is in `notes`.
    """
    _check(design)
    runs = read_runs(table, design)
    contrasts, effect_notes = factor_contrasts(design)
    all_visits = {m.key: visit_means(runs, m, design) for m in design.measures}
    judged = {key: visits for key, visits in all_visits.items() if not np.isnan(visits.means).all()}
    analyses = {key: analyse(v, design, _rounds_used(v, design)) for key, v in judged.items()}
    cells_of = dict(zip(analyses, pooled(tuple(analyses.values())), strict=True))
    shown = {key: _judge(a, contrasts, cells_of[key]) for key, a in analyses.items()}
    other = {
        key: _judge(analyse(v, design, not shown[key].rounds_used), contrasts)
        for key, v in judged.items()
        if shown[key].rounds_used or complete_rounds(~np.isnan(v.means))
    }
    differing = [d for key, o in other.items() for d in measure_disagreements(shown[key], o, _way(o))]
    present = np.any([~np.isnan(v.means) for v in judged.values()], axis=0) if judged else np.zeros((0, 0, 0), dtype=bool)
    return Judgement(
        design=design,
        measures=shown,
        other_rounds=other or None,
        titles=runs.titles,
        visits=int(present.any(axis=0).sum()) if judged else 0,
        runs=runs.run_count,
        one_visit=all(m.noise.shift_df == 0 for m in shown.values()),
        notes=(*_notes(all_visits, shown, design), *effect_notes),
        disagreements=tuple(differing),
        pooled={key: cells for key, cells in cells_of.items() if cells is not None},
    )


def _check(design: Design) -> None:
    problems = []
    if len(set(design.setups)) < len(design.setups) or not design.setups:
        problems.append(
            Problem("design-setups", f"setups must be named once each, found {listed(design.setups) or 'none'}", "setups")
        )
    if design.baseline not in design.setups:
        problems.append(
            Problem("design-setups", f"the baseline {design.baseline!r} is none of {listed(design.setups)}", "baseline")
        )
    for setup, levels in design.levels.items():
        for factor, level in levels.items():
            if factor in design.factors and level not in design.factors[factor]:
                known = listed(design.factors[factor])
                problems.append(Problem("design-setups", f"{setup} has level {level!r} of {factor}, which has {known}", "levels"))
    for name, weight in design.weights.items():
        if not 0 < weight < np.inf:
            problems.append(Problem("design-setups", f"the weight of {name} is a number above 0, found {weight}", "weights"))
    for name, margin in design.margins.items():
        if not 0 <= margin < np.inf:
            problems.append(Problem("design-setups", f"the margin of {name} is a number not below 0, found {margin}", "margins"))
    if not 0 < design.confidence < 1:
        problems.append(Problem("design-setups", f"confidence lies between 0 and 1, found {design.confidence}", "confidence"))
    if problems:
        raise JudgingError(problems)


def _rounds_used(visits: Visits, design: Design) -> bool:
    """By the design; left to itself, where rounds are complete and leave degrees of freedom for the noise."""
    present = ~np.isnan(visits.means)
    if design.rounds is not None:
        return design.rounds and _round_df(present) > 0
    return complete_rounds(present) and _round_df(present) >= LEAST_ROUND_DF


def _round_df(present: Bools) -> int:
    """Degrees of freedom that setups × visits leave after setups and rounds (connected pattern)."""
    there: Bools = np.asarray(present.any(axis=0))
    setups, visits = there.any(axis=1).sum(), there.any(axis=0).sum()
    return int(there.sum() - setups - visits + 1)


def _judge(
    analysis: Analysis, contrasts: Sequence[FactorContrast], drawn_together: PooledCells | None = None
) -> MeasureJudgement:
    design = analysis.design
    compared = with_pooled(comparisons(analysis), drawn_together)
    return MeasureJudgement(
        measure=analysis.measure,
        margin=analysis.margin,
        cells=cells(analysis),
        comparisons=compared,
        over=over_titles(analysis, compared),
        effects=effects(analysis, contrasts),
        noise=noise_of(analysis),
        rounds_used=analysis.layout.rounds,
        best=against_best(analysis),
        counts=title_counts(compared, analysis.measure, design),
        trends=trends(analysis, numeric_factors(design)),
    )


def _way(other: MeasureJudgement) -> str:
    return "with rounds as blocks" if other.rounds_used else "without rounds"


def _notes(visits: Mapping[str, Visits], shown: Mapping[str, MeasureJudgement], design: Design) -> tuple[str, ...]:
    notes: list[str] = []
    for key, v in visits.items():
        notes += v.notes
        if key not in shown:
            notes.append(f"{v.measure.label}: no value that could be judged.")
            continue
        present = ~np.isnan(v.means)
        notes += _absent(v, design, present)
        if complete_rounds(present) and not shown[key].rounds_used and design.rounds is not False:
            notes.append(
                f"{v.measure.label}: rounds would leave {_round_df(present)} degree of freedom and are no term of what is shown."
            )
        if shown[key].noise.shift_df == 0:
            notes.append(f"{v.measure.label}: visits and setups cannot be told apart, so no verdict is given.")
    return tuple(dict.fromkeys(notes))


def _absent(visits: Visits, design: Design, present: Bools) -> list[str]:
    """Titles that lack a setup, as far as the study has it elsewhere."""
    cells: Bools = np.asarray(present.any(axis=2))
    wanted: Bools = np.asarray(cells.any(axis=0))
    notes = []
    for t, title in enumerate(visits.titles):
        lacking = [design.setups[c] for c in np.flatnonzero(wanted & ~cells[t])]
        if lacking and cells[t].any():
            notes.append(f"{visits.measure.label}, {title}: nothing under {listed(lacking)}; the other setups are compared.")
        elif lacking:
            notes.append(f"{visits.measure.label}: nothing of {title}.")
    return notes
