"""How noisy the bench was, part by part, and which differences could be seen in spite of it."""

from __future__ import annotations

import math
from statistics import median
from typing import Final

from evenhand.judging.model import Interval, MeasureJudgement
from evenhand.measures.model import Measure, Scale
from evenhand.units import NO_BREAK, decimals_for, number, percent_of_log
from evenhand.writeup import sentences
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import measure_name

WIDE: Final = 2.0  # intervals so many margins wide to one side seldom allow "level"


def noise(material: Material) -> Section | None:
    """None where there is no noise to state: one visit a setup."""
    average = material.average
    reach = title_reach(material, average)
    if reach is None or average.noise.shift is None:
        return None
    shown = size(average.measure, reach)
    margin = sentences.margin_words(average.measure, average.margin)
    heading = (
        f"At a title, a difference of {shown} or more in the {measure_name(average.measure)} stands out from this bench's noise"
    )
    lead = (
        "Visits of one setup are the yardstick: by how much they differ, in what all titles share and in what is a title's own, "
        "decides how narrow an interval can be. More runs in a visit only thin out what differs from run to run."
    )
    text = (
        f"That is about {number(reach / average.margin, 0)} times the margin of {margin}: differences that matter would go "
        "unseen here, and “open” must not be read as “level”."
        if reach > WIDE * average.margin
        else f"The margin is {margin}."
    )
    rows = tuple(_row(material, m) for m in material.leading)
    head = ("measure", "a visit, all titles", "a title's own", "run to run", "reach at a title", "reach over titles", "margin")
    table = Table(
        head=head,
        rows=rows,
        columns=(Column.NAME, *(Column.FIGURE for _ in head[1:])),
        caption="Standard deviations between visits and between runs of a visit; reach: half the width of the typical interval "
        "against the baseline.",
    )
    return Section("noise", heading, label="noise", lead=lead, paragraphs=(text,), tables=(table,))


def title_reach(material: Material, judged: MeasureJudgement) -> float | None:
    """Half the width of the typical simultaneous interval at a title, on the measure's scale; None where there is none."""
    base = material.study.baseline
    return _typical([c.simultaneous for c in judged.comparisons if c.against == base])


def _over_reach(material: Material, judged: MeasureJudgement) -> float | None:
    return _typical([o.these for o in judged.over if o.against == material.study.baseline])


def _typical(intervals: list[Interval]) -> float | None:
    halves = [(i.high - i.low) / 2 for i in intervals if math.isfinite(i.high - i.low)]
    return median(halves) if halves else None


def _row(material: Material, judged: MeasureJudgement) -> tuple[str, ...]:
    noise, measure = judged.noise, judged.measure
    own = [v for v in noise.title_moderated.values() if math.isfinite(v)]
    parts = (noise.shift, median(own) if own else None, noise.run, title_reach(material, judged), _over_reach(material, judged))
    margin = sentences.margin_words(measure, judged.margin)
    return (measure_name(measure), *("–" if part is None else size(measure, part) for part in parts), margin)


def size(measure: Measure, value: float) -> str:
    """A spread or reach on the measure's scale, as people read it."""
    shown = percent_of_log(value) if measure.scale is Scale.LOG else value
    unit = f"{NO_BREAK}%" if measure.scale is Scale.LOG else f" {measure.unit}"
    return f"{number(shown, decimals_for(shown, most=2))}{unit}"
