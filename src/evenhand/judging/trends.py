"""Factors with numeric levels: the curve along their values with a band, its steps, slope and bend, and its knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import isotonic_regression

from evenhand.judging.analysis import Analysis, doubts_of, half_width, interval
from evenhand.judging.contrasts import LevelMeans, level_means
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import decide
from evenhand.judging.effects import alike_titles, visits_at
from evenhand.judging.family import family_quantiles
from evenhand.judging.knee import knee
from evenhand.judging.model import Coefficient, Design, Interval, Knee, LevelPoint, LevelStep, Trend, Verdict
from evenhand.judging.over import title_votes
from evenhand.measures.model import Better

Floats = npt.NDArray[np.float64]

FEWEST_LEVELS: Final = 3  # two have no curve; their difference is the factor's effect


@dataclass(frozen=True, slots=True, eq=False)
class NumericFactor:
    """levels, values : by rising value, L of them. means : (L, C). reference : index of the factor's first level.

    pairs : (L, L), row of `rows` that holds the difference of each pair of levels, the second less the first. rows : (K, C), all
    pairs, then per unit, bend and, where the values allow, per doubling.
    """

    name: str
    levels: tuple[str, ...]
    values: Floats
    reference: int
    means: Floats
    rows: Floats
    pairs: npt.NDArray[np.intp]
    additive: bool


def numeric_factors(design: Design) -> tuple[NumericFactor, ...]:
    """The factors of a design whose levels, three or more, are all different numbers and can be compared."""
    found = []
    for factor, values in design.values.items():
        means = level_means(design, factor)
        known = [values[level] for level in means.levels if level in values] if means else []
        if means is not None and FEWEST_LEVELS <= len(means.levels) == len(set(known)):
            found.append(_numeric(means, np.array(known)))
    return tuple(found)


def _numeric(means: LevelMeans, values: Floats) -> NumericFactor:
    order = np.argsort(values)
    sorted_means, sorted_values = means.weights[order], values[order]
    size = len(means.levels)
    every = list(combinations(range(size), 2))
    pairs = np.zeros((size, size), dtype=np.intp)
    for row, (i, j) in enumerate(every):
        pairs[i, j] = pairs[j, i] = row
    rows = [sorted_means[j] - sorted_means[i] for i, j in every]
    rows += [line @ sorted_means for line in curve_lines(sorted_values)]
    return NumericFactor(
        name=means.factor,
        levels=tuple(means.levels[i] for i in order),
        values=sorted_values,
        reference=int(np.flatnonzero(order == 0)[0]),
        means=sorted_means,
        rows=np.array(rows),
        pairs=pairs,
        additive=means.additive,
    )


def curve_lines(values: Floats) -> list[Floats]:
    """Weights of the levels' means for slope per unit, bend and, where all values are above 0, slope per doubling; each (L,).

    Least squares with equal weights. bend : of the quadratic fit c₂ x² + …, −c₂ (range / 2)², which is how far the middle of the
    range lies above the chord of its ends; its weights are those of the orthogonal polynomial of degree 2.
    """
    scale = np.ptp(values)
    place = (values - values.mean()) / scale
    quadratic = np.linalg.pinv(np.vander(place, 3))[0]
    lines = [place / (place @ place) / scale, -quadratic / 4]
    if values.min() > 0:
        logs = np.log2(values) - np.log2(values).mean()
        lines.append(logs / (logs @ logs))
    return lines


def trends(analysis: Analysis, factors: tuple[NumericFactor, ...]) -> tuple[Trend, ...]:
    """Every numeric factor at every title that has all its setups, then over those titles."""
    found = []
    for factor in factors:
        possible = np.asarray(analysis.estimable(factor.rows).all(axis=1))
        mine = np.flatnonzero(possible).tolist()
        if not mine:
            continue
        at: dict[int, _Numbers] = {}
        for titles in alike_titles(analysis, possible[:, None]):
            if possible[titles[0]]:
                own = _numbers(analysis, factor, [title_votes(analysis, [t]) for t in titles], visits_at(analysis, titles[0]))
                at.update(zip(titles, own, strict=True))
        found += [_trend(analysis, factor, at[t], analysis.visits.titles[t]) for t in mine]
        (over,) = _numbers(analysis, factor, [title_votes(analysis, mine)], visits_at(analysis, None))
        found.append(_trend(analysis, factor, over, None))
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Numbers:
    """What was found for the rows of one factor at one place; all (K,)."""

    estimate: Floats
    se: Floats
    df: Floats
    together: Floats
    inner: Floats

    def difference(self, factor: NumericFactor, i: int, j: int) -> tuple[float, float]:
        """(level j less level i, half-width of its interval over all pairs)."""
        row = factor.pairs[i, j]
        return float(self.estimate[row]) * (1.0 if i < j else -1.0), float(self.together[row])


def _numbers(analysis: Analysis, factor: NumericFactor, votes: Sequence[Floats], visits: npt.NDArray[np.intp]) -> list[_Numbers]:
    """Of each choice of titles (T,), all with these numbers of visits (C,)."""
    size = factor.rows.shape[0]
    found = analysis.contrasts(analysis.rows(np.repeat(np.array(votes), size, axis=0), np.tile(factor.rows, (len(votes), 1))))
    estimate, se, df = (x[0].reshape(len(votes), size) for x in (found.estimate, found.se, found.df))
    together = half_width(se, family_quantiles(factor.rows, visits, df, analysis.design.confidence))
    inner = half_width(se, t_quantile(df, analysis.design.inner))
    return [_Numbers(*of_one) for of_one in zip(estimate, se, df, together, inner, strict=True)]


def _trend(analysis: Analysis, factor: NumericFactor, numbers: _Numbers, title: str | None) -> Trend:
    lines = [_coefficient(analysis, numbers, k) for k in range(_pairs(factor), factor.rows.shape[0])]
    points, direction = _points(factor, numbers, _direction(lines[0].interval))
    return Trend(
        measure=analysis.measure.key,
        title=title,
        factor=factor.name,
        reference=factor.levels[factor.reference],
        points=points,
        steps=tuple(_step(analysis, factor, numbers, i) for i in range(len(factor.levels) - 1)),
        direction=direction,
        per_unit=lines[0],
        per_doubling=lines[2] if len(lines) > 2 else None,
        bend=lines[1],
        knee=_knee(analysis, factor, numbers) if analysis.told else None,
        margin=analysis.margin,
        doubts=doubts_of(
            float(numbers.df.min()), float(numbers.se.max()), analysis.single_visit(np.flatnonzero(factor.means.any(axis=0)))
        ),
        additive=factor.additive,
    )


def _pairs(factor: NumericFactor) -> int:
    return len(factor.levels) * (len(factor.levels) - 1) // 2


def _coefficient(analysis: Analysis, numbers: _Numbers, row: int) -> Coefficient:
    middle = float(numbers.estimate[row])
    around = interval(middle, float(numbers.together[row]), analysis.design.confidence)
    return Coefficient(middle, float(numbers.se[row]), float(numbers.df[row]), around)


def _direction(slope: Interval) -> int:
    return 1 if slope.low > 0 else -1 if slope.high < 0 else 0


def _step(analysis: Analysis, factor: NumericFactor, numbers: _Numbers, i: int) -> LevelStep:
    row = factor.pairs[i, i + 1]
    middle = float(numbers.estimate[row])
    outer = interval(middle, float(numbers.together[row]), analysis.design.confidence)
    inner = interval(middle, float(numbers.inner[row]), analysis.design.inner)
    return LevelStep(
        lower=factor.levels[i],
        upper=factor.levels[i + 1],
        estimate=middle,
        se=float(numbers.se[row]),
        df=float(numbers.df[row]),
        interval=outer,
        verdict=decide(outer, inner, analysis.margin, analysis.measure.better) if analysis.told else Verdict.UNTOLD,
    )


def _points(factor: NumericFactor, numbers: _Numbers, direction: int) -> tuple[tuple[LevelPoint, ...], int]:
    """(the levels with their places on the curve, the direction that the curve keeps)."""
    size = len(factor.levels)
    both = [numbers.difference(factor, factor.reference, j) if j != factor.reference else (0.0, 0.0) for j in range(size)]
    measured, half = np.array(both).T
    curve = fitted_curve(measured, half, direction, _weights(factor), factor.reference)
    rows = zip(factor.levels, factor.values, measured, curve.fitted, curve.low, curve.high, strict=True)
    points = tuple(LevelPoint(level, *(float(v) for v in numbers_of)) for level, *numbers_of in rows)
    return points, curve.direction


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """fitted, low, high : (L,), differences from the reference level. direction : that it keeps, 0 where it may turn."""

    fitted: Floats
    low: Floats
    high: Floats
    direction: int


def fitted_curve(measured: Floats, half: Floats, direction: int, weights: Floats, reference: int) -> Curve:
    """Least squares among the curves that keep the direction, with the band tightened accordingly; as measured where there is no
    direction, or levels clearly turn against it. measured, half : differences from the reference level with half their intervals.
    """
    low, high = measured - half, measured + half
    if direction:
        tight_low, tight_high = monotone_band(low, high, direction)
        if (tight_low <= tight_high).all():
            fit = isotonic_regression(measured, weights=weights, increasing=direction > 0).x
            return Curve(np.clip(fit - fit[reference], tight_low, tight_high), tight_low, tight_high, direction)
    return Curve(measured, low, high, 0)


def monotone_band(low: Floats, high: Floats, direction: int) -> tuple[Floats, Floats]:
    """The tightest band (L,) that a truth which never turns and lies in the given one must lie in: what it exceeds at one level,
    it exceeds at all levels after it. A low end above its high end says that no such truth lies in it.
    """
    way = slice(None, None, direction)
    return np.maximum.accumulate(low[way])[way], np.minimum.accumulate(high[way][::-1])[::-1][way]


def _weights(factor: NumericFactor) -> Floats:
    """One over the variance of each level's mean, as far as the number of its setups tells; equal under the additive model."""
    spread = (factor.means**2).sum(axis=1)
    return np.ones_like(spread) if factor.additive else 1.0 / spread


def _knee(analysis: Analysis, factor: NumericFactor, numbers: _Numbers) -> Knee:
    size = len(factor.levels)
    better = 1.0 if analysis.measure.better is Better.HIGHER else -1.0
    sign = np.triu(np.ones((size, size))) - np.tril(np.ones((size, size)))
    gain = better * sign * numbers.estimate[factor.pairs]
    at_least, enough = knee(gain, numbers.together[factor.pairs], numbers.inner[factor.pairs], analysis.margin)
    brings = _coefficient(analysis, numbers, int(factor.pairs[0, enough])) if enough else None
    return Knee(factor.levels[at_least], factor.levels[enough], brings)
