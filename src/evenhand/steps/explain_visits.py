"""The first half of a derivation: from runs to visit means, and from all titles' visit means to the two parts of the noise."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis, analyse
from evenhand.judging.model import Judgement, Row
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Scale
from evenhand.stats.moderated import combine
from evenhand.stats.moderated_robust import moderate_robustly
from evenhand.steps.derivation import Derivation, figure, mean, signed, total
from evenhand.steps.runs import StudyRun, rows
from evenhand.study.model import Study
from evenhand.wording import counted
from evenhand.writeup.model import Table

Floats = npt.NDArray[np.float64]

VISIT_MEANS = "all titles' visit means, on the scale"
NOISE = "noise between visits"
TITLES = "each title's own noise"


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One measure as it was judged: the rows that the judge read, the analysis, the labels of the visits in its order."""

    analysis: Analysis
    rows: tuple[Row, ...]
    visits: tuple[str, ...]

    @property
    def titles(self) -> tuple[str, ...]:
        """Names of the titles."""
        return self.analysis.visits.titles

    @property
    def setups(self) -> tuple[str, ...]:
        """Names of the setups."""
        return self.analysis.design.setups

    @property
    def log(self) -> bool:
        """Whether values are compared as ratios."""
        return self.analysis.measure.scale is Scale.LOG

    def present(self, title: int, setup: int) -> list[int]:
        """Visits that the cell has."""
        return [int(v) for v in np.flatnonzero(self.analysis.layout.present[title, setup])]

    def cell(self, title: int, setup: int) -> float:
        """Mean of the cell's visit means, on the scale."""
        return float(self.analysis.visits.means[title, setup, self.present(title, setup)].mean())


def judged_again(study: Study, runs: Sequence[StudyRun], shown: Judgement, measure: str) -> Judged:
    """The measure's analysis, made again from the runs that count as `judge` made it."""
    design = shown.design
    found = shown.measures[measure]
    table = rows(study, [r for r in runs if r.counts])
    read = read_runs(table, design)
    means = visit_means(read, found.measure, design)
    mine = tuple(row for row in table if row.measure == measure)
    return Judged(analyse(means, design, found.rounds_used), mine, tuple(str(v) for v in read.visits))


def runs_to_visits(made: Derivation, judged: Judged, title: int, setups: Sequence[int]) -> None:
    """Every run of the title under these setups, and the visit means that they make."""
    made.begin(f"{judged.titles[title]}: runs and visit means")
    scale = "compared as ratios: natural logarithms" if judged.log else "compared as differences: as they are"
    made.say("scale", judged.analysis.measure.unit, scale)
    for setup in setups:
        own = [r for r in judged.rows if (r.title, r.setup) == (judged.titles[title], judged.setups[setup])]
        for row in own:
            made.add(f"{_address(row)} r{row.run}", "of the run's frames", row.value, unit=judged.analysis.measure.unit)
        for v in judged.present(title, setup):
            _visit(made, judged, title, setup, v, [r for r in own if str(r.visit) == judged.visits[v]])


def _address(row: Row) -> str:
    scene = f"{row.scene} " if row.scene and row.scene != row.title else ""
    return f"{scene}{row.setup} v{row.visit}"


def _visit(made: Derivation, judged: Judged, title: int, setup: int, v: int, own: Sequence[Row]) -> None:
    """A visit's mean: over the runs of each scene, then over the scenes."""
    scenes: dict[str, list[Row]] = defaultdict(list)
    for row in own:
        scenes[row.scene].append(row)
    name = f"{judged.setups[setup]}, visit {judged.visits[v]}"
    found = float(judged.analysis.visits.means[title, setup, v])
    means = {scene: float(np.mean([_scaled(judged, r) for r in runs])) for scene, runs in scenes.items()}
    if not np.isclose(np.mean(list(means.values())), found, rtol=1e-9, atol=1e-12):
        made.add(name, "a scene is missing or left out: least squares, scene + visit, over the setup's visits", found)
        return
    terms = {scene: mean([_term(judged, r) for r in runs]) for scene, runs in scenes.items()}
    if len(scenes) == 1:
        made.add(name, f"mean of {counted(len(own), 'run')}", found, next(iter(terms.values())))
        return
    for scene, runs in scenes.items():
        made.add(f"{scene} {name}", f"mean of {counted(len(runs), 'run')}", means[scene], terms[scene])
    made.add(name, f"mean of {counted(len(scenes), 'scene')}", found, mean([signed(m) for m in means.values()]))


def _term(judged: Judged, row: Row) -> str:
    return f"log({figure(row.value)})" if judged.log else signed(row.value)


def _scaled(judged: Judged, row: Row) -> float:
    return float(np.log(row.value)) if judged.log else row.value


def every_visit_mean(made: Derivation, judged: Judged) -> None:
    """The visit means of all titles: what the noise is estimated from."""
    means = judged.analysis.visits.means
    at = [(c, v) for c in range(means.shape[1]) for v in range(means.shape[2]) if not np.isnan(means[:, c, v]).all()]
    head = ("title", *(f"{judged.setups[c]} v{judged.visits[v]}" for c, v in at))
    body = tuple((name, *(figure(float(means[t, c, v])) for c, v in at)) for t, name in enumerate(judged.titles))
    made.begin(VISIT_MEANS, Table(head, body, (False, *(True for _ in at)), VISIT_MEANS))
    for t, name in enumerate(judged.titles):
        for c, v in at:
            if not np.isnan(means[t, c, v]):
                made.add(f"M of {name}, {judged.setups[c]}, visit {judged.visits[v]}", "as above", float(means[t, c, v]))


def noise_parts(made: Derivation, judged: Judged) -> None:
    """What visits share, and what is each title's own."""
    made.begin(NOISE)
    analysis = judged.analysis
    layout, noise = analysis.layout, analysis.noise
    if not analysis.told:
        made.say("noise", "one visit a setup", "visits and setups cannot be told apart")
        return
    made.say("rounds", "the mean of a round over titles and setups is taken out", "yes" if layout.rounds else "no")
    if layout.balanced:
        _shared_differences(made, judged)
    else:
        squares = float(noise.total[0] * layout.shift_scale)
        after = "cells and rounds" if layout.rounds else "cells"
        how = (
            f"of the visits' shared differences after {after}, by least squares, as visits are missing (Henderson's third method)"
        )
        made.add("sum of squares", how, squares)
        made.add("its divisor", "trace of the shifts' part", layout.shift_scale)
        made.add("f_Z", "degrees of freedom of s²_Z: divisor² over the sum of the squared eigenvalues", noise.total_df)
        made.add("s²_Z", "sum of squares / divisor", float(noise.total[0]), f"{figure(squares)} / {figure(layout.shift_scale)}")
    if layout.shape[0] == 1:
        made.say("own noise", "one title", "not told apart from what visits share: all of it is in s²_Z")
        return
    _own_parts(made, judged)
    _shift(made, judged)


def _shared_differences(made: Derivation, judged: Judged) -> None:
    """s²_Z where every cell has every visit: Z of every visit, and the sum of their squares."""
    means, layout, noise = judged.analysis.visits.means, judged.analysis.layout, judged.analysis.noise
    titles, setups, visits = layout.shape
    centred = means - means.mean(axis=2, keepdims=True)
    shared, less, groups = centred.mean(axis=0), "", f"{setups}"
    if layout.rounds:
        rounds = centred.mean(axis=(0, 1))
        for v, shift in enumerate(rounds.tolist()):
            made.add(f"B of round {judged.visits[v]}", "mean over titles and setups of (M − its cell's mean)", shift)
        shared, less, groups = shared - rounds, " − B", f"({setups} − 1)"
    for c in range(setups):
        for v in range(visits):
            how = f"mean over {counted(titles, 'title')} of (M − its cell's mean){less}"
            made.add(f"Z of {judged.setups[c]}, visit {judged.visits[v]}", how, float(shared[c, v]))
    made.add("f_Z", "degrees of freedom of s²_Z", noise.total_df, f"{groups} × ({visits} − 1)")
    squares = total(f"{signed(z)}^2" for z in shared.ravel().tolist())
    put_in = f"({squares}) / {figure(noise.total_df)}" if squares else ""
    made.add("s²_Z", "sum of Z² / f_Z", float(noise.total[0]), put_in)


def _own_parts(made: Derivation, judged: Judged) -> None:
    """The titles' own variances: raw, steadied by the other titles', raised by what the mean of all takes from them."""
    layout, noise = judged.analysis.layout, judged.analysis.noise
    has = layout.own_df > 0
    count = int(has.sum())
    made.begin("how titles steady each other")
    if not count:
        made.say("own noise", "of the titles", "no title has residuals of its own")
        return
    if (noise.setups != 1.0).any():
        for name, ratio in zip(judged.setups, noise.setups[0].tolist(), strict=True):
            how = "own noise of a setup to that of all, where they are more unlike than chance; residuals are evened out by it"
            made.add(f"ratio of {name}", how, ratio)
    if count < 3:
        made.say("ω²", "fewer than three titles", "their s² are pooled, weighted by their degrees of freedom")
        _titles_table(made, judged, None)
        return
    prior = float(moderate_robustly(noise.raw[0, has], layout.own_df[has]).prior_variance)
    shared = np.full(has.size, prior)
    shared[has] = combine(noise.raw[0, has], layout.own_df[has], np.asarray(prior), noise.prior_df[0, has]).posterior
    middle = float(shared[has].mean())
    made.add("s0²", "prior variance, fitted to the titles' s² (Smyth 2004; Phipson et al. 2016)", prior)
    made.add("middle", f"mean of shared s² over {counted(count, 'title')}", middle)
    _titles_table(made, judged, _Shared(shared, prior, middle, count))


@dataclass(frozen=True, slots=True, eq=False)
class _Shared:
    """Moderated variances (T,), the prior's variance, their mean over the `count` titles that have residuals."""

    variances: Floats
    prior: float
    middle: float
    count: int


def _titles_table(made: Derivation, judged: Judged, shared: _Shared | None) -> None:
    """Every title's own noise, as a table and as steps."""
    layout, noise = judged.analysis.layout, judged.analysis.noise
    columns = [
        ("s²", "squares of what Z and rounds leave of the title's visit means, over their divisor", noise.raw[0]),
        ("d", "degrees of freedom of s²", layout.own_df),
    ]
    if shared:
        columns.append(("d0", "degrees of freedom of the prior for this title", noise.prior_df[0]))
        columns.append(("shared s²", "(d0 × s0² + d × s²) / (d0 + d); s0² where d0 has no end", shared.variances))
    raised = f"shared s² + max(shared s² − middle, 0) / ({shared.count} − 2)" if shared else "mean of s², weighted by d"
    columns.append(("ω²", raised, noise.own[0]))
    columns.append(
        ("f", "degrees of freedom of ω²: those of s² and prior, at most those of all titles' residuals", noise.own_df[0])
    )
    body = tuple((name, *(figure(float(values[t])) for _, _, values in columns)) for t, name in enumerate(judged.titles))
    keys = "; ".join(f"{symbol}: {how}" for symbol, how, _ in columns)
    made.begin(TITLES, Table(("title", *(s for s, _, _ in columns)), body, (False, *(True for _ in columns)), keys))
    for t, name in enumerate(judged.titles):
        for symbol, how, values in columns:
            put_in = _put_in(symbol, judged, t, shared) if shared else ""
            made.add(f"{symbol} of {name}", how, float(values[t]), put_in)


def _put_in(symbol: str, judged: Judged, t: int, shared: _Shared) -> str:
    """The numbers in the formulas of a title's own noise."""
    noise = judged.analysis.noise
    d, d0, s2, own = (float(x[t]) for x in (judged.analysis.layout.own_df, noise.prior_df[0], noise.raw[0], shared.variances))
    if symbol == "shared s²" and np.isfinite(d0) and d > 0:
        return f"({figure(d0)} × {figure(shared.prior)} + {figure(d)} × {figure(s2)}) / ({figure(d0)} + {figure(d)})"
    if symbol == "ω²":
        return f"{figure(own)} + max({figure(own)} − {figure(shared.middle)}, 0) / ({shared.count} − 2)"
    return ""


def _shift(made: Derivation, judged: Judged) -> None:
    """σ²_V: what is left of s²_Z without the titles' part."""
    layout, noise = judged.analysis.layout, judged.analysis.noise
    taken = float(noise.own[0] @ layout.own_in_shift)
    made.begin("what a visit shifts in all titles")
    every = mean([figure(own) for own in noise.own[0].tolist()]) if layout.balanced else ""
    how = "mean of ω² / T" if layout.balanced else "sum of h × ω², h from the pattern of visits"
    made.add("titles' part of s²_Z", how, taken, f"({every}) / {layout.shape[0]}" if every else "")
    put_in = f"max({figure(float(noise.total[0]))} − {figure(taken)}, 0)"
    made.add("σ²_V", "max(s²_Z − titles' part, 0)", float(noise.shift[0]), put_in)
