"""All comparisons of a title at a glance; each has a derivation of its own."""

from __future__ import annotations

from evenhand.judging.model import Comparison, MeasureJudgement
from evenhand.steps.derivation import Derivation, figure
from evenhand.steps.explain_visits import Judged
from evenhand.units import percent
from evenhand.writeup import sentences


def summary(judged: Judged, found: MeasureJudgement, title: int) -> Derivation:
    """The noise of a title and every pair of its setups, in numbers on the scale."""
    name, noise = judged.titles[title], found.noise
    made = Derivation(part=f"noise at {name}")
    made.say("scale", "on which values are compared", found.measure.scale.value)
    made.say("rounds", "mean of a round over titles and setups taken out", "yes" if found.rounds_used else "no")
    made.say("shift of a visit, all titles", "standard deviation, from what titles share", _sd(noise.shift, noise.shift_df))
    raw = _sd(noise.title.get(name), noise.title_df.get(name))
    made.say("this title's own, raw", "standard deviation of what is left", raw)
    how = f"shared between titles (Smyth 2004), prior degrees of freedom {figure(noise.prior_df)}"
    made.say("this title's own, moderated", how, _sd(noise.title_moderated.get(name), None))
    made.say("run to run", "within a visit, pooled", _sd(noise.run, noise.run_df))
    for c in (c for c in found.comparisons if c.title == name):
        made.begin(f"{c.setup} against {c.against} (all steps: evenhand explain STUDY {name}/{c.setup} --against {c.against})")
        _comparison(made, c, found)
    return made


def _sd(value: float | None, df: float | None) -> str:
    if value is None:
        return "cannot be told"
    return figure(value) if df is None else f"{figure(value)} on {figure(df)} degrees of freedom"


def _comparison(made: Derivation, c: Comparison, found: MeasureJudgement) -> None:
    made.add(f"{c.setup} against {c.against}", f"difference on the scale ({found.measure.scale.value})", c.estimate)
    df = f"{figure(c.se)}, {figure(c.df)} degrees of freedom"
    made.say("standard error", "shared and own parts over visits", df)
    outer, inner = c.simultaneous, c.inner
    between = f"{figure(outer.low)} to {figure(outer.high)}"
    made.say(f"{percent(100 * outer.confidence, 0)}, all pairs at once", "estimate ± max-t quantile × standard error", between)
    between = f"{figure(inner.low)} to {figure(inner.high)}; margin ±{figure(c.margin)}"
    made.say(f"{percent(100 * inner.confidence, 0)}, this pair", "two one-sided tests", between)
    made.say("verdict", "decided from these two intervals", sentences.phrase(c, found.measure))
    for doubt in c.doubts:
        made.say("doubt", "why to trust it less", doubt)
