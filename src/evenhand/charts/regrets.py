"""Regrets: under each setup, what every title loses against its best one."""

from __future__ import annotations

from collections.abc import Mapping

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import Item, Rows, interval_sheet, shown
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import difference
from evenhand.charts.sheet import legible, sentence, spoken
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import margins_in_words
from evenhand.judging.model import MeasureJudgement
from evenhand.measures.model import Better, Scale
from evenhand.study.model import Study

#: Printed with one decimal.
STEP = 0.001


def title_regrets(
    study: Study,
    judged: MeasureJudgement,
    regrets: Mapping[str, Mapping[str, float]],
    *,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """One row a setup, one open mark a title; the farthest is filled, and named right of all.

    regrets : setup -> title -> what it loses against its best setup, on the measure's scale, not below 0. Raises ValueError where
    there is none.
    """
    setups = [s for s in study.setups if regrets.get(s.name)]
    if not setups:
        raise ValueError("no title has a regret")
    order, m = [s.name for s in study.setups], judged.measure
    items = [item for row, s in enumerate(setups) for item in _items(study, judged, s.name, regrets[s.name], row, order, theme)]
    titles = max(len(own) for own in regrets.values())
    said = f"{spoken(m)} of {wording.counted(titles, 'title')} under each setup against the title's own best setup"
    return interval_sheet(
        Rows(
            name="regrets" if m.key == "average" else f"regrets-{m.key.replace('_', '-')}",
            title=f"What titles lose: {m.label}",
            subtitle=study.question,
            caption=sentence(
                f"{said}; the farthest, filled, is named. Titles are drawn together as far as they are alike. "
                f"Shaded: {margins_in_words([judged])}.{frames_timed(study)}"
            ),
            alt=sentence(f"{said}. {'. '.join(_told(study, judged, s.name, regrets[s.name]) for s in setups)}."),
            labels=tuple(s.label for s in setups),
            strong=frozenset(),
            heads=(("", None),),
            unit=f"{'%' if m.scale is Scale.LOG else m.unit} against the best",
            items=tuple(items),
        ),
        form,
        theme,
    )


def _items(
    study: Study,
    judged: MeasureJudgement,
    setup: str,
    own: Mapping[str, float],
    row: int,
    order: list[str],
    theme: Theme,
) -> list[Item]:
    colour, shape = look_of(theme, setup, order)
    ends = sorted((0.0, shown(judged.measure, _signed(judged, judged.margin))))
    band, worst = (ends[0], ends[1]), max(own, key=lambda title: own[title])
    words = f"{_lost(judged, own[worst])} {legible(study.title(worst).label)}" if own[worst] > 0 else ""
    placed = sorted((shown(judged.measure, _signed(judged, regret)), title) for title, regret in own.items())
    return [
        Item(0, row, 0.5, value, value, value, band, colour, shape, title == worst, None, words if last else "")
        for (value, title), last in zip(placed, [False] * (len(placed) - 1) + [True], strict=True)
    ]


def _signed(judged: MeasureJudgement, regret: float) -> float:
    """The regret as a change of the value."""
    return -regret if judged.measure.better is Better.HIGHER else regret


def _lost(judged: MeasureJudgement, regret: float) -> str:
    return difference(judged.measure, _signed(judged, regret), STEP)


def _told(study: Study, judged: MeasureJudgement, setup: str, own: Mapping[str, float]) -> str:
    worst = max(own, key=lambda title: own[title])
    near = sum(regret <= judged.margin for regret in own.values())
    where = f"most {_lost(judged, own[worst])} in {legible(study.title(worst).label)}"
    return f"{legible(study.setup(setup).label)}: {near} of {len(own)} lose no more than the margin, {where}"
