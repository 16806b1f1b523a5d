"""What each factor does: main effects and interactions, one panel an effect, one row a title."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

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

#: Effects that still stand side by side on a page.
MOST_PANELS: Final = 4
#: Effects that an alternative text tells.
MOST_TOLD: Final = 15


def factor_effects(study: Study, judged: MeasureJudgement, *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Effects of the factors and how they need each other, title by title and over titles; where these are more than can stand
    side by side, what each factor does alone. Raises ValueError where a study has no factors.
    """
    if not judged.effects:
        raise ValueError("a study without factors has no effects")
    shown = [e for e in judged.effects if len(e.factors) == 1] if many_effects(judged) else list(judged.effects)
    kinds = {(e.factors, e.levels): e for e in shown}
    labels = {t.name: t.label for t in study.titles}
    titles = in_order(labels, (e.title for e in shown if e.title is not None))
    over = any(e.title is None for e in shown)
    m = judged.measure
    rows = Rows(
        name=name_of("effects", m.key),
        title=f"What each factor does to the {spoken(m)}",
        subtitle=study.question,
        caption=_caption(study, judged, len(titles), "row", len(kinds) < len(_kinds(judged))),
        alt=_alt(study, judged, shown),
        labels=(*(labels.get(t, t) for t in titles), *(["over titles"] if over else [])),
        strong=frozenset({len(titles)}) if over else frozenset(),
        heads=tuple((effect_name(study, e), None) for e in kinds.values()),
        unit=_unit(judged),
        items=tuple(
            _item(e, judged, list(kinds).index((e.factors, e.levels)), titles.index(e.title) if e.title else len(titles), theme)
            for e in shown
        ),
    )
    return interval_sheet(rows, form, theme)


def all_effects(study: Study, judged: MeasureJudgement, *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Every effect over titles, one row each. Raises ValueError where there is none."""
    over = [e for e in judged.effects if e.title is None]
    if not over:
        raise ValueError("a study without factors has no effects")
    m = judged.measure
    rows = Rows(
        name=name_of("all-effects", m.key),
        title=f"What the factors do to the {spoken(m)}, over titles",
        subtitle=study.question,
        caption=_caption(study, judged, len({e.title for e in judged.effects} - {None}), "chart"),
        alt=_alt(study, judged, over),
        labels=tuple(effect_name(study, e) for e in over),
        strong=frozenset(),
        heads=(("", None),),
        unit=_unit(judged),
        items=tuple(replace(_item(e, judged, 0, k, theme), words=difference(m, e.estimate, e.se)) for k, e in enumerate(over)),
        lanes=2 if form.stacked else 1,  # room for names of two lines
    )
    return interval_sheet(rows, form, theme)


def many_effects(judged: MeasureJudgement) -> bool:
    """Whether the effects are too many to stand side by side."""
    return len(_kinds(judged)) > MOST_PANELS


def _kinds(judged: MeasureJudgement) -> set[tuple[tuple[str, ...], tuple[tuple[str, str], ...]]]:
    return {(e.factors, e.levels) for e in judged.effects}


def _unit(judged: MeasureJudgement) -> str:
    return "%" if judged.measure.scale is Scale.LOG else judged.measure.unit


def _item(effect: Effect, judged: MeasureJudgement, column: int, row: int, theme: Theme) -> Item:
    m = judged.measure
    colour = theme.ink if effect.title is None else theme.setup_colours[0]
    low, high = ends(m, effect.interval)
    alone = len(effect.factors) == 1
    return Item(column, row, 0.5, shown(m, effect.estimate), low, high, margin_band(m, effect.margin), colour, "circle", alone)


def effect_name(study: Study, effect: Effect) -> str:
    """`65 W instead of 45 W`; for an interaction `memory and power limit together`, of its levels where a factor has several."""
    factors = {f.name: f for f in study.factors}
    own = [factors.get(f) for f in effect.factors]
    labels = [{x.name: legible(x.label) for x in f.levels} if f else {} for f in own]
    named = [(names.get(a, a), names.get(b, b)) for names, (a, b) in zip(labels, effect.levels, strict=True)]
    if len(own) == 1:
        return f"{named[0][0]} instead of {named[0][1]}"
    if all(f is None or len(f.levels) < 3 for f in own):
        return f"{wording.listed([legible(f.label) if f else n for f, n in zip(own, effect.factors, strict=True)])} together"
    return f"{wording.listed([level for level, _ in named])} together"


def _caption(study: Study, judged: MeasureJudgement, titles: int, family: str, alone: bool = False) -> str:
    needs = "how much that change differs between the levels of the other factor (0 = the factors do not need each other)"
    open_marks = "" if alone else f"; open marks: {needs}"
    return sentence(
        f"{spoken(judged.measure)}, {wording.counted(titles, 'title')}; filled marks: mean change when one factor moves to the "
        f"level named first{open_marks}. Bars: {study.confidence * 100:g}{NO_BREAK}% intervals, of all effects of a {family} at "
        f"once. Shaded: {margins_in_words([judged])}.{frames_timed(study)}"
    )


def _alt(study: Study, judged: MeasureJudgement, shown_effects: Sequence[Effect]) -> str:
    over = [e for e in shown_effects if e.title is None] or list(shown_effects)
    parts = [f"{effect_name(study, e)}: {difference(judged.measure, e.estimate, e.se)}" for e in over[:MOST_TOLD]]
    return f"Factor effects on the {spoken(judged.measure)}, over titles. {'. '.join(parts)}."
