"""What a title shows along a factor's numbers and along its scenes, in numbers on the scale."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.judging.model import Along, MeasureJudgement, Trend
from evenhand.steps.derivation import Derivation, figure
from evenhand.study.model import Study
from evenhand.units import percent
from evenhand.writeup.along_words import along_words
from evenhand.writeup.levels_words import curve_sentence


def curves(made: Derivation, study: Study, found: MeasureJudgement, title: str) -> None:
    """Every factor of numbers: the levels, the slope and the bend, and where more of it ends to pay."""
    for trend in (t for t in found.trends if t.title == title):
        made.begin(f"along {trend.factor} (docs/methods/numeric-levels.md)")
        _levels(made, trend)
        for step in trend.steps:
            between = _around(step.estimate, step.interval.low, step.interval.high)
            made.say(f"{step.lower} to {step.upper}", "difference of neighbouring levels, all pairs at once", between)
        for name, how, one in (
            ("slope", "least squares, for one unit of the value", trend.per_unit),
            ("bend", "how far the middle lies above the straight line between the ends", trend.bend),
        ):
            made.say(name, how, _around(one.estimate, one.interval.low, one.interval.high))
        if trend.knee is not None:
            rule = "no level above is better by more than the margin"
            made.say("not shown to be too low", rule, f"{trend.knee.at_least} and above")
            made.say("shown to be enough", rule, f"{trend.knee.enough} and above")
        made.say("in words", "from these", curve_sentence(study, trend, found.measure))


def _levels(made: Derivation, trend: Trend) -> None:
    for p in trend.points:
        band = f"{figure(p.estimate)}, on the curve {_around(p.fitted, p.low, p.high)}"
        made.say(p.level, f"against {trend.reference}, with a band for all levels at once", band)


def _around(value: float, low: float, high: float) -> str:
    return f"{figure(value)} ({figure(low)} to {figure(high)})"


def places(made: Derivation, along: Sequence[Along]) -> None:
    """Where in the scenes setups differ; one line a setup where something is found."""
    told = [a for a in along if a.passages]
    if along:
        sure = percent(100 * along[0].confidence, 0)
        made.begin(f"along the scene, a {sure} band for all of it (docs/methods/along-the-scene.md)")
    for a in told:
        made.say(a.scene, f"{a.setup} against {a.against}, visits averaged in {len(a.estimate)} bins", along_words(a))
    if along and not told:
        made.say("every setup", "against the baseline, visits averaged in bins", "no difference told anywhere in the scene")
