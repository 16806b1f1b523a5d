"""Contrasts title by title: one panel a setup, one row a title in the study's order, and the mean over titles at the foot."""

from __future__ import annotations

from evenhand import wording
from evenhand.charts.intervals import Item, Rows, ends, interval_sheet, margin_band, shown
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import difference, unit_of
from evenhand.charts.sheet import legible, sentence, spoken
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import margins_in_words, name_of
from evenhand.judging.model import MeasureJudgement
from evenhand.study.model import Study
from evenhand.units import NO_BREAK


def title_contrasts(study: Study, judged: MeasureJudgement, *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Every title under every setup against the baseline, with simultaneous intervals on the margin band."""
    order = [s.name for s in study.setups]
    compared = [s for s in study.setups if s.name != study.baseline]
    labels = {t.name: t.label for t in study.titles}
    titles = list(dict.fromkeys(c.title for c in judged.comparisons))
    titles.sort(key=lambda name: list(labels).index(name) if name in labels else len(labels))
    m, base = judged.measure, legible(study.setup(study.baseline).label)
    items = []
    for k, s in enumerate(compared):
        colour, shape = look_of(theme, s.name, order)
        for c in judged.comparisons:
            if (c.setup, c.against) == (s.name, study.baseline):
                low, high = ends(m, c.simultaneous)
                items.append(
                    Item(
                        k,
                        titles.index(c.title),
                        0.5,
                        shown(m, c.estimate),
                        low,
                        high,
                        margin_band(m, c.margin),
                        colour,
                        shape,
                        True,
                    )
                )
        for o in judged.over:
            if (o.setup, o.against) == (s.name, study.baseline):
                low, high = ends(m, o.these)
                items.append(
                    Item(
                        k,
                        len(titles),
                        0.5,
                        shown(m, o.estimate),
                        low,
                        high,
                        margin_band(m, o.margin),
                        theme.ink,
                        shape,
                        True,
                        ends(m, o.like) if o.like else None,
                    )
                )
    if not items:
        raise ValueError("no title is compared with the baseline")
    return interval_sheet(
        Rows(
            name=name_of("titles", m.key),
            title=f"{m.label}, title by title, against {base}",
            subtitle=study.question,
            caption=_caption(study, judged, base, len(titles)),
            alt=_alt(study, judged, base),
            labels=(*(labels.get(t, t) for t in titles), "over titles"),
            strong=frozenset({len(titles)}),
            heads=tuple((s.label, look_of(theme, s.name, order)) for s in compared),
            unit=unit_of(m, base),
            items=tuple(items),
        ),
        form,
        theme,
    )


def _caption(study: Study, judged: MeasureJudgement, base: str, titles: int) -> str:
    visits = sorted({c.visits for c in judged.cells})
    count = f"{visits[0]}" if len(visits) == 1 else f"{visits[0]} to {visits[-1]}"
    return sentence(
        f"{spoken(judged.measure)} of {wording.counted(titles, 'title')} under each setup against {base}; {count} visits a "
        f"setup; bars: "
        f"{study.confidence * 100:g}{NO_BREAK}% intervals, simultaneous over the pairs of a title. "
        f"Shaded: {margins_in_words([judged])}. "
        f"{'More' if judged.measure.better.value == 'higher' else 'Less'} is better."
    )


def _alt(study: Study, judged: MeasureJudgement, base: str) -> str:
    parts = []
    for s in study.setups:
        own = [c for c in judged.comparisons if (c.setup, c.against) == (s.name, study.baseline)]
        if own:
            least, most = min(own, key=lambda c: c.estimate), max(own, key=lambda c: c.estimate)
            parts.append(
                f"{legible(s.label)}: from {difference(judged.measure, least.estimate, least.se)} ({legible(least.title)}) to "
                f"{difference(judged.measure, most.estimate, most.se)} ({legible(most.title)})"
            )
    return f"{spoken(judged.measure)} title by title, against {base}. {'. '.join(parts)}."
