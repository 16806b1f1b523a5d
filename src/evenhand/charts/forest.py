"""Contrasts title by title: one panel a setup, one row a title in the study's order, and the mean over titles at the foot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import Item, Rows, ends, interval_sheet, margin_band, shown
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import difference, unit_of
from evenhand.charts.sheet import legible, sentence, spoken
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import margins_in_words, name_of, spread
from evenhand.judging.model import MeasureJudgement
from evenhand.study.model import Study
from evenhand.units import NO_BREAK


def title_contrasts(study: Study, judged: MeasureJudgement, *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Every title under every setup against the baseline, with simultaneous intervals on the margin band. Raises ValueError
    where nothing is compared with the baseline.
    """
    order = [s.name for s in study.setups]
    compared = [s for s in study.setups if s.name != study.baseline]
    labels = {t.name: t.label for t in study.titles}
    titles = in_order(labels, (c.title for c in judged.comparisons))
    m, base = judged.measure, legible(study.setup(study.baseline).label)
    items = [item for k, s in enumerate(compared) for item in _items(study, judged, titles, s.name, k, theme)]
    if not items:
        raise ValueError("no title is compared with the baseline")
    rows = Rows(
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
    )
    return interval_sheet(rows, form, theme)


def in_order(labels: Mapping[str, str], titles: Iterable[str]) -> list[str]:
    """Each title once, in the study's order, those that the study does not know at the end."""
    places = {name: i for i, name in enumerate(labels)}
    return sorted(dict.fromkeys(titles), key=lambda name: places.get(name, len(places)))


def _items(study: Study, judged: MeasureJudgement, titles: list[str], setup: str, column: int, theme: Theme) -> list[Item]:
    """The contrasts of one setup, and its mean over titles."""
    colour, shape = look_of(theme, setup, [s.name for s in study.setups])
    m, pair = judged.measure, (setup, study.baseline)
    items = []
    for c in judged.comparisons:
        if (c.setup, c.against) == pair:
            place, band = (column, titles.index(c.title), 0.5), margin_band(m, c.margin)
            items.append(Item(*place, shown(m, c.estimate), *ends(m, c.simultaneous), band, colour, shape, True))
    for o in judged.over:
        if (o.setup, o.against) == pair:
            place, band, like = (column, len(titles), 0.5), margin_band(m, o.margin), ends(m, o.like) if o.like else None
            items.append(Item(*place, shown(m, o.estimate), *ends(m, o.these), band, theme.ink, shape, True, like))
    return items


def _caption(study: Study, judged: MeasureJudgement, base: str, titles: int) -> str:
    visits = spread([c.visits for c in judged.cells], "visit")
    return sentence(
        f"{spoken(judged.measure)} of {wording.counted(titles, 'title')} under each setup against {base}; {visits} a "
        f"setup; bars: "
        f"{study.confidence * 100:g}{NO_BREAK}% intervals, simultaneous over the pairs of a title. "
        f"Shaded: {margins_in_words([judged])}. "
        f"{'More' if judged.measure.better.value == 'higher' else 'Less'} is better.{frames_timed(study)}"
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
