"""What any choice of the titles says over titles: many choices at once, the noise known from all titles.

A choice is a row of booleans, one a title, or of how often each title counts. A title that is left out loses its vote; what its
visits tell about the noise stays, so that a choice differs from all titles by what its titles say and not by another draw of
the noise estimate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis, half_width
from evenhand.judging.critical import pairs_quantile, t_quantile
from evenhand.judging.decide import verdict_codes
from evenhand.judging.layout import layout_of
from evenhand.judging.pairs import pair_weights, pairs_of

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

#: Values held at once where many choices are weighed.
MOST_VALUES = 400_000


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """Every pair of setups at every title, of one measure: T titles, P pairs in the order of `pairs_of`, N visits.

    estimate : (T, P), the sign of the value, 0 where it cannot be stated; has : (T, P), where it can. own : (T, P), variance from
    the title's own noise. rows : (P, T, N), the visits' weights. weights : (T,), of the titles' votes.
    """

    analysis: Analysis
    estimate: Floats
    has: Bools
    own: Floats
    rows: Floats
    weights: Floats

    @property
    def unit(self) -> float:
        """The margin, in which errors and gains are counted; where it is 0, the titles' mean spread."""
        return self.analysis.margin or float(np.abs(self.estimate).mean()) or 1.0

    def votes(self, chosen: Bools | Floats, pair: int) -> Floats:
        """(B, T): votes that sum to 1 over the chosen titles (B, T) that have the pair; all 0 where none has it."""
        raw = chosen * (self.weights * self.has[:, pair])
        total = raw.sum(axis=1, keepdims=True)
        return np.asarray(np.divide(raw, total, out=np.zeros_like(raw), where=total > 0))

    def over(self, chosen: Bools | Floats, pairs: slice = slice(None)) -> Floats:
        """(B, P): mean over the chosen titles (B, T), each as often as it counts; NaN where none has the pair."""
        total = chosen @ (self.weights[:, None] * self.has[:, pairs])
        whole = chosen @ (self.weights[:, None] * self.estimate[:, pairs])
        return np.asarray(np.divide(whole, total, out=np.full(whole.shape, np.nan), where=total > 0))


@dataclass(frozen=True, slots=True, eq=False)
class Halves:
    """Half-widths over titles, each (B,): over all pairs of setups, and of two one-sided tests."""

    these: Floats
    inner: Floats


def field_of(analysis: Analysis) -> Field:
    """The field of a measure's analysis."""
    pairs = pairs_of(analysis.design)
    setups = pair_weights(pairs, len(analysis.design.setups))
    titles, count = analysis.layout.shape[0], len(pairs)
    has = analysis.estimable(setups)
    rows = analysis.rows(np.repeat(np.eye(titles), count, axis=0), np.tile(setups, (titles, 1)))
    estimate = (rows @ analysis.means[0]).reshape(titles, count)
    own = analysis.own_variance(rows).reshape(titles, count)
    weights = np.array([analysis.design.weights.get(name, 1.0) for name in analysis.visits.titles])
    by_pair = rows.reshape(titles, count, -1).transpose(1, 0, 2)
    return Field(analysis, np.where(has, estimate, 0.0), has, np.where(has, own, 0.0), by_pair, weights)


def only_visits(analysis: Analysis, kept: Bools) -> Analysis:
    """The same analysis with the visits `kept` (V,) alone; its noise is that of all visits."""
    layout = layout_of(analysis.layout.present & kept, analysis.layout.rounds)
    return replace(analysis, layout=layout, means=layout.pick(analysis.visits.means)[None, :])


def halves_over(field: Field, chosen: Bools | Floats, pair: int) -> Halves:
    """Half-widths of one pair over each choice (B, T); infinite where no chosen title has it."""
    analysis = field.analysis
    se, df = np.empty(chosen.shape[0]), np.empty(chosen.shape[0])
    for part in parts(chosen.shape[0], field.rows.shape[2]):
        votes = field.votes(chosen[part], pair)
        found = analysis.contrasts(votes @ field.rows[pair])
        se[part] = np.where(votes.any(axis=1), found.se[0], np.inf)
        df[part] = found.df[0]
    design = analysis.design
    return Halves(
        half_width(se, pairs_quantile(analysis.setups, df, design.confidence)), half_width(se, t_quantile(df, design.inner))
    )


def against_baseline(field: Field) -> list[int]:
    """Places, in `pairs_of`, of the pairs with the baseline."""
    design = field.analysis.design
    return [i for i, (_, against) in enumerate(pairs_of(design)) if design.setups[against] == design.baseline]


def parts(count: int, each: int) -> Iterator[slice]:
    """Slices of `count` rows of `each` values, no more than can well be held at once."""
    step = max(1, MOST_VALUES // max(each, 1))
    return (slice(start, min(start + step, count)) for start in range(0, count, step))


def verdicts_over(field: Field, estimate: Floats, halves: Halves) -> Ints:
    """(B,): codes of the verdicts of estimates (B,) with these half-widths (`decide.VERDICTS`)."""
    return verdict_codes(estimate, halves.these, halves.inner, field.analysis.margin, field.analysis.measure.better)
