"""What every part of a measure's judgement starts from, computed once: visit means, layout, noise, margin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from evenhand.judging import reservations
from evenhand.judging.critical import title_quantiles
from evenhand.judging.layout import Layout, layout_of
from evenhand.judging.model import Design, Interval
from evenhand.judging.noise import Estimates, VisitNoise, contrast_weights, estimates, own_of_visits, visit_noise
from evenhand.judging.setup_noise import unsteady_setup
from evenhand.judging.visits import Visits
from evenhand.measures.model import Measure, Scale

Floats = npt.NDArray[np.float64]

FEW_DF = 4.0
#: A setup with at least so many times the others' standard deviation is called noisier.
NOISIER_FROM = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """One measure, with or without rounds. margin : on the measure's scale. means : (1, N) in the layout's order.

    visits_of : (T, C), number of visits in each cell.
    """

    design: Design
    measure: Measure
    margin: float
    visits: Visits
    layout: Layout
    noise: VisitNoise
    means: Floats

    @property
    def visits_of(self) -> npt.NDArray[np.intp]:
        """(T, C): number of visits in each cell."""
        return np.asarray(self.layout.present.sum(axis=2))

    @property
    def setups(self) -> int:
        """How many of the design's setups have a visit."""
        return int(self.layout.cells.any(axis=0).sum())

    @property
    def told(self) -> bool:
        """Whether visits and setups can be told apart at all."""
        return self.noise.total_df > 0

    def rows(self, title_weights: Floats, setup_weights: Floats) -> Floats:
        """(K, N): the visits' weights in K contrasts, from the titles' (K, T) and the setups' (K, C)."""
        return contrast_weights(self.layout, title_weights, setup_weights)

    def contrasts(self, rows: Floats) -> Estimates:
        """Estimates of the contrasts; shapes (1, K)."""
        return estimates(self.layout, self.noise, self.means, rows)

    def title_quantiles(self, title: npt.NDArray[np.intp], rows: Floats, df: Floats) -> Floats:
        """(1, K): critical values over the contrasts of each title (K,), for df (1, K)."""
        return title_quantiles(self.layout, self.noise, title, rows, df, self.design.confidence)

    def own_variance(self, rows: Floats) -> Floats:
        """(K,): variance of the contrasts from the titles' own noise, without what visits share."""
        return np.asarray((rows**2 * own_of_visits(self.layout, self.noise)[0]).sum(axis=1))

    def run_variance(self, rows: Floats) -> Floats:
        """(K,): variance of the contrasts from run noise alone; 0 where no visit has two runs."""
        count = np.maximum(self.layout.pick(self.visits.runs.astype(np.float64)), 1)
        return np.asarray((rows**2 / count).sum(axis=1) * (self.visits.run_variance or 0.0))

    def single_visit(self, setups: npt.NDArray[np.intp]) -> tuple[str, ...]:
        """Names of those of `setups` (indices) that have one visit while the noise is known from others."""
        visited = self.layout.present.any(axis=0).sum(axis=1)
        return tuple(self.design.setups[c] for c in setups if visited[c] == 1)

    def setup_doubts(self, setups: npt.NDArray[np.intp]) -> tuple[str, ...]:
        """What sets one of `setups` (indices) apart from all others in its noise, and what that does to its intervals."""
        if not self.told:
            return ()
        found = []
        ratio = np.sqrt(self.noise.setups[0])
        for c in setups:
            others = ratio[self.layout.cells.any(axis=0) & (np.arange(ratio.size) != c)]
            if others.size and ratio[c] > NOISIER_FROM * others.mean():
                found.append(reservations.NOISIER.say(setup=self.design.setups[c], ratio=f"{ratio[c] / others.mean():.1f}"))
        unsteady = unsteady_setup(self.layout, self.means[0])
        if unsteady is not None and unsteady in setups:
            found.append(reservations.UNSTEADY.say(setup=self.design.setups[unsteady]))
        return tuple(found)

    def estimable(self, setup_weights: Floats) -> npt.NDArray[np.bool_]:
        """(T, K): whether each contrast of the setups (K, C) has all its cells at the title and is free of round shifts."""
        lacking = (setup_weights != 0).astype(np.float64) @ (~self.layout.cells).T
        whole = lacking.T == 0
        if not self.layout.rounds:
            return np.asarray(whole)
        part = np.abs(np.einsum("kc,tcv->tkv", setup_weights, self.layout.round_part)).max(axis=2)
        return np.asarray(whole & (part < 1e-8))


def analyse(visits: Visits, design: Design, rounds: bool) -> Analysis:
    """Layout and noise of a measure's visit means."""
    measure = visits.measure
    margin = design.margins.get(measure.key, measure.margin)
    layout = layout_of(~np.isnan(visits.means), rounds)
    means = layout.pick(visits.means)[None, :]
    on_scale = math.log1p(margin) if measure.scale is Scale.LOG else margin
    return Analysis(design, measure, on_scale, visits, layout, visit_noise(layout, means), means)


def interval(estimate: float, half: float, confidence: float) -> Interval:
    """Estimate ± half; infinite where half is."""
    return Interval(estimate - half, estimate + half, confidence)


def half_width(se: npt.ArrayLike, quantile: npt.ArrayLike) -> Floats:
    """se × quantile; infinite where either is."""
    s, q = np.asarray(se, dtype=np.float64), np.asarray(quantile, dtype=np.float64)
    return np.asarray(np.where(np.isinf(s) | np.isinf(q), np.inf, np.where(np.isinf(s), 1.0, s) * np.where(np.isinf(q), 1.0, q)))


def p_values(estimate: Floats, se: Floats, df: Floats) -> Floats:
    """Two-sided; 1 where there are no degrees of freedom."""
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.where(se > 0, np.abs(estimate) / se, np.where(estimate == 0, 0.0, np.inf))
    return np.asarray(np.where(df > 0, 2 * special.stdtr(np.maximum(df, 0.1), -t), 1.0))


def doubts_of(df: float, se: float, one_visit: tuple[str, ...] = (), borrowed: bool = False) -> tuple[str, ...]:
    """Why an estimate should be trusted less. one_visit : setups that have a single visit."""
    found = []
    if df <= 0:
        found.append("visits and setups cannot be told apart")
    elif df < 2:
        found.append(reservations.ONE_DF.say())
    elif df < FEW_DF:
        found.append(f"few degrees of freedom ({df:.1f}): the noise itself is known only roughly")
    if se == 0:
        found.append("the visits agree to the last digit, so the noise could not be seen")
    if df > 0 and one_visit:
        found.append(f"{' and '.join(one_visit)} has one visit: its noise is taken from the other setups")
    if borrowed:
        found.append("the title's own noise could not be seen and is taken from the other titles")
    return tuple(found)
