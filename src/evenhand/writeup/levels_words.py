"""What a factor does along its numbers, in words: one sentence a curve, and its steps for a table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Final

from evenhand.charts.sheet import legible
from evenhand.judging.model import Coefficient, Interval, Knee, LevelStep, Trend, Verdict
from evenhand.measures.model import Measure
from evenhand.study.model import Study
from evenhand.units import number
from evenhand.wording import listed
from evenhand.writeup import sentences

#: Highest value over lowest from which on doublings say more than single units.
DOUBLES: Final = 2.0


def factor_label(study: Study, factor: str) -> str:
    """Label of a factor, its name where the study does not know it."""
    return legible(next((f.label for f in study.factors if f.name == factor), factor))


def level_labels(study: Study, factor: str) -> dict[str, str]:
    """Label of each level of a factor."""
    return {level.name: legible(level.label) for f in study.factors if f.name == factor for level in f.levels}


def curve_sentence(study: Study, trend: Trend, measure: Measure) -> str:
    """Where more of a factor ends to pay, and what it brings until there, in one sentence without a full stop.

    `memory: up to 6000 MT/s more pays, +5.1 % (+4.5 to +5.7 %) over 5200 MT/s; beyond it nothing brings more than the margin of
    3 %`.
    """
    labels = {p.level: p.level for p in trend.points} | level_labels(study, trend.factor)
    margin = sentences.margin_words(measure, trend.margin)
    said = f"{factor_label(study, trend.factor)}: {_knee_words(trend, trend.knee, labels, margin, measure)}"
    falls = [s for s in trend.steps if s.verdict in sentences.BEHIND]
    if falls:
        said += f"; {listed([_fall(s, labels, measure, trend.margin) for s in falls])}"
    return said + (", as far as factors do not need each other" if trend.additive else "")


def _knee_words(trend: Trend, knee: Knee | None, labels: Mapping[str, str], margin: str, measure: Measure) -> str:
    lowest, highest = trend.points[0].level, trend.points[-1].level
    if knee is None:
        return "one visit a setup cannot tell where more ends to pay"
    if knee.told and knee.enough == lowest:
        return f"{labels[lowest]} is enough, no higher level brings more than the margin of {margin}"
    if knee.told and knee.enough == highest:
        return f"more pays up to {labels[highest]}, the highest tried{_gain(knee, labels[lowest], measure, trend.margin)}"
    if knee.told:
        brings = _gain(knee, labels[lowest], measure, trend.margin)
        return f"more pays up to {labels[knee.enough]}{brings}; beyond it nothing brings more than the margin of {margin}"
    if (knee.at_least, knee.enough) == (lowest, highest):
        return f"these runs cannot tell whether more than {labels[lowest]} brings more than the margin of {margin}"
    return (
        f"more ends to bring more than the margin of {margin} somewhere from {labels[knee.at_least]} to {labels[knee.enough]}"
        f"{', the highest tried' if knee.enough == highest else ''}; where exactly these runs cannot tell"
    )


def _gain(knee: Knee, lowest: str, measure: Measure, margin: float) -> str:
    gain = knee.gain
    return "" if gain is None else f", {_numbers(gain.estimate, gain.se, gain.interval, measure, margin)} over {lowest}"


def _numbers(estimate: float, se: float, around: Interval, measure: Measure, margin: float) -> str:
    return f"{sentences.change(estimate, se, measure)} ({sentences.signed_interval(around, se, measure, margin)})"


def _fall(step: LevelStep, labels: Mapping[str, str], measure: Measure, margin: float) -> str:
    numbers = _numbers(step.estimate, step.se, step.interval, measure, margin)
    return f"{labels[step.upper]} is behind {labels[step.lower]}, {numbers}"


def step_rows(study: Study, trend: Trend, measure: Measure) -> list[tuple[str, str, str]]:
    """(step, change, what it amounts to) of every step, then the straight line and how far the curve bends from it."""
    labels = {p.level: p.level for p in trend.points} | level_labels(study, trend.factor)
    rows = [
        (
            f"{labels[s.lower]} to {labels[s.upper]}",
            _numbers(s.estimate, s.se, s.interval, measure, trend.margin),
            _amounts(s.verdict),
        )
        for s in trend.steps
    ]
    name, slope = slope_of(trend)
    rows.append((f"straight line, {name}", _numbers(slope.estimate, slope.se, slope.interval, measure, 0.0), _way(slope)))
    bend = trend.bend
    bent = _numbers(bend.estimate, bend.se, bend.interval, measure, 0.0)
    rows.append(("middle above the straight line", bent, _bending(trend)))
    return rows


def slope_of(trend: Trend) -> tuple[str, Coefficient]:
    """(what the slope is for, slope): of each doubling where the values span one, else of a step as large as the smallest."""
    values = [p.value for p in trend.points]
    if trend.per_doubling is not None and values[-1] >= DOUBLES * values[0]:
        return "each doubling", trend.per_doubling
    step = min(b - a for a, b in pairwise(values))
    one = trend.per_unit
    ends = Interval(one.interval.low * step, one.interval.high * step, one.interval.confidence)
    each = replace(one, estimate=one.estimate * step, se=one.se * step, interval=ends)
    return f"each {number(step, 0 if step == round(step) else 2)} more", each


def _amounts(verdict: Verdict) -> str:
    return "less than matters" if verdict is Verdict.LEVEL else sentences.word(verdict)


def _way(slope: Coefficient) -> str:
    return "rises" if slope.interval.low > 0 else "falls" if slope.interval.high < 0 else "open"


def _bending(trend: Trend) -> str:
    if trend.bend.interval.low <= 0 <= trend.bend.interval.high:
        return "no bend told"
    if not trend.direction:
        return "bent"
    less = (trend.bend.estimate > 0) == (trend.direction > 0)
    return f"each further step brings {'less' if less else 'more'}"
