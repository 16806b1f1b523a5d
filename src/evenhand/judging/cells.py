"""The estimate of each title under each setup in natural units, and the noise in words of standard deviations."""

from __future__ import annotations

import math

import numpy as np

from evenhand.judging.analysis import Analysis, half_width
from evenhand.judging.critical import t_quantile
from evenhand.judging.model import Cell, Noise
from evenhand.measures.model import Scale


def cells(analysis: Analysis) -> tuple[Cell, ...]:
    """One `Cell` per title and setup that has a visit, in the order of titles and setups.

    The interval is of the cell's mean over visits like these, this cell alone; with rounds, what all setups of a round share is
    not in it.
    """
    places = np.argwhere(analysis.layout.cells)
    titles, setups, _ = analysis.layout.shape
    found = analysis.contrasts(analysis.rows(np.eye(titles)[places[:, 0]], np.eye(setups)[places[:, 1]]))
    half = half_width(found.se[0], t_quantile(found.df[0], analysis.design.confidence))
    return tuple(_cell(analysis, int(t), int(c), float(h)) for (t, c), h in zip(places, half, strict=True))


def _cell(analysis: Analysis, title: int, setup: int, half: float) -> Cell:
    visits = analysis.visits
    there = analysis.layout.present[title, setup]
    means = visits.means[title, setup, there]
    centre = float(means.mean())
    return Cell(
        measure=analysis.measure.key,
        title=visits.titles[title],
        setup=analysis.design.setups[setup],
        value=_natural(analysis, centre),
        interval_low=_natural(analysis, centre - half),
        interval_high=_natural(analysis, centre + half),
        visits=int(there.sum()),
        runs=int(visits.runs[title, setup].sum()),
        visit_means=tuple(_natural(analysis, float(m)) for m in means),
        visit_runs=tuple(int(n) for n in visits.runs[title, setup, there]),
    )


def _natural(analysis: Analysis, value: float) -> float:
    if analysis.measure.scale is not Scale.LOG:
        return value
    return math.exp(value) if value < 700 else math.inf


def noise_of(analysis: Analysis) -> Noise:
    """The variance parts as standard deviations; titles that have none of their own are not named."""
    found, visits, layout = analysis.noise, analysis.visits, analysis.layout
    known = [t for t in range(len(visits.titles)) if layout.own_df[t] > 0]
    prior = found.prior_df[0, known]
    return Noise(
        measure=analysis.measure.key,
        shift=math.sqrt(float(found.shift[0])) if analysis.told else None,
        shift_df=found.total_df,
        title={visits.titles[t]: math.sqrt(float(found.raw[0, t])) for t in known},
        title_df={visits.titles[t]: float(layout.own_df[t]) for t in known},
        title_moderated={visits.titles[t]: math.sqrt(float(found.own[0, t])) for t in known},
        prior_df=float(np.median(prior)) if known else math.inf,
        run=None if visits.run_variance is None else math.sqrt(visits.run_variance),
        run_df=visits.run_df,
    )
