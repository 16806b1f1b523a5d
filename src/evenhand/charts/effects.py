"""What each factor does: main effects and interactions, one panel an effect, one row a title."""

from __future__ import annotations

from evenhand import wording
from evenhand.charts.forest import in_order
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import Item, Rows, ends, interval_sheet, margin_band, shown
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import difference
from evenhand.charts.sheet import legible, sentence, spoken
from evenhand.charts.theme import BENCH_BOOK, PAGE
from evenhand.charts.titles import margins_in_words, name_of
from evenhand.judging.model import Effect, MeasureJudgement
from evenhand.measures.model import Scale
from evenhand.study.model import Study
from evenhand.units import NO_BREAK


def factor_effects(study: Study, judged: MeasureJudgement, *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Effects of the factors and how they need each other, title by title and over titles. Raises ValueError where a study has
    no factors.
    """
    if not judged.effects:
        raise ValueError("a study without factors has no effects")
    kinds = {(e.factors, e.levels): e for e in judged.effects}
    labels = {t.name: t.label for t in study.titles}
    titles = in_order(labels, (e.title for e in judged.effects if e.title is not None))
    over = any(e.title is None for e in judged.effects)
    m = judged.measure
    rows = Rows(
        name=name_of("effects", m.key),
        title=f"What each factor does to the {spoken(m)}",
        subtitle=study.question,
        caption=_caption(study, judged, len(titles)),
        alt=_alt(study, judged),
        labels=(*(labels.get(t, t) for t in titles), *(["over titles"] if over else [])),
        strong=frozenset({len(titles)}) if over else frozenset(),
        heads=tuple((effect_name(study, e), None) for e in kinds.values()),
        unit="%" if m.scale is Scale.LOG else m.unit,
        items=tuple(_item(e, judged, list(kinds).index((e.factors, e.levels)), titles, theme) for e in judged.effects),
    )
    return interval_sheet(rows, form, theme)


def _item(effect: Effect, judged: MeasureJudgement, column: int, titles: list[str], theme: Theme) -> Item:
    m = judged.measure
    row = len(titles) if effect.title is None else titles.index(effect.title)
    colour = theme.ink if effect.title is None else theme.setup_colours[0]
    low, high = ends(m, effect.interval)
    alone = len(effect.factors) == 1
    return Item(column, row, 0.5, shown(m, effect.estimate), low, high, margin_band(m, effect.margin), colour, "circle", alone)


def effect_name(study: Study, effect: Effect) -> str:
    """`65 W instead of 45 W`, or for an interaction `memory and power limit together`."""
    factors = {f.name: f for f in study.factors}
    if len(effect.factors) > 1:
        return f"{wording.listed([legible(factors[f].label if f in factors else f) for f in effect.factors])} together"
    factor, (level, reference) = factors.get(effect.factors[0]), effect.levels[0]
    names = {level.name: level.label for level in factor.levels} if factor else {}
    return f"{legible(names.get(level, level))} instead of {legible(names.get(reference, reference))}"


def _caption(study: Study, judged: MeasureJudgement, titles: int) -> str:
    return sentence(
        f"{spoken(judged.measure)}, {wording.counted(titles, 'title')}; filled marks: mean change when one factor moves to the "
        "level named first; open marks: how much that change differs between the levels of the other factor (0 = the factors do "
        f"not need each other). Bars: {study.confidence * 100:g}{NO_BREAK}% intervals, of all effects of a row at once. "
        f"Shaded: {margins_in_words([judged])}.{frames_timed(study)}"
    )


def _alt(study: Study, judged: MeasureJudgement) -> str:
    over = [e for e in judged.effects if e.title is None] or list(judged.effects)
    parts = [f"{effect_name(study, e)}: {difference(judged.measure, e.estimate, e.se)}" for e in over[:12]]
    return f"Factor effects on the {spoken(judged.measure)}, over titles. {'. '.join(parts)}."
