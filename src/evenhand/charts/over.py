"""Over titles: each setup against the baseline, average and low, for these titles and for titles like these."""

from __future__ import annotations

import math
from collections.abc import Sequence

from evenhand import wording
from evenhand.charts.best import best_in_words, may_be_best
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import Item, Rows, ends, interval_sheet, margin_band, shown
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.sheet import legible, sentence, spoken
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import margins_in_words, spread
from evenhand.judging.model import MeasureJudgement, OverTitles
from evenhand.measures.model import Measure, Scale
from evenhand.study.model import Study
from evenhand.units import NO_BREAK, decimals_for, number, percent_of_log


def over_titles(
    study: Study,
    average: MeasureJudgement,
    low: MeasureJudgement | None = None,
    *,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """One row a setup, the baseline apart; filled mark = average, open = low. Both measures share a scale (per cent)."""
    both = [m for m in (average, low) if m is not None]
    order = [s.name for s in study.setups]
    compared = [s for s in study.setups if s.name != study.baseline]
    items = [item for row, s in enumerate(compared) for item in _items(both, (s.name, study.baseline), row, order, theme)]
    if not items:
        raise ValueError("no setup is compared with the baseline")
    titles = max(o.titles for m in both for o in m.over)
    base = legible(study.setup(study.baseline).label)
    may = may_be_best(average, None)
    best = frozenset(i for i, s in enumerate(compared) if s.name in may)
    caption = _caption(study, both, titles, base) + ("" if best else best_in_words(study, average, None))
    return interval_sheet(
        Rows(
            name="over-titles",
            title=f"Over {wording.counted(titles, 'title')}, against {base}",
            subtitle=study.question,
            caption=caption,
            alt=_alt(study, both, base) + best_in_words(study, average, None),
            labels=tuple(s.label for s in compared),
            strong=frozenset(),
            heads=(("", None),),
            unit=unit_of(average.measure, base),
            items=tuple(items),
            lanes=len(both),
            lane_names=tuple(spoken(m.measure) for m in both),
            best=best,
            best_in=average,
        ),
        form,
        theme,
    )


def unit_of(measure: Measure, base: str) -> str:
    """What the axis counts: `% against 6400 · 65 W`."""
    return f"{'%' if measure.scale is Scale.LOG else measure.unit} against {base}"


def difference(measure: Measure, value: float, se: float) -> str:
    """A difference as printed beside a mark, with sign and unit; decimals follow the standard error."""
    if measure.scale is Scale.LOG:
        return f"{number(percent_of_log(value), min(decimals_for(100 * se), 1), (0.0,), sign=True)}{NO_BREAK}%"
    return number(value, decimals_for(se), (0.0,), sign=True)


def _items(both: Sequence[MeasureJudgement], pair: tuple[str, str], row: int, order: Sequence[str], theme: Theme) -> list[Item]:
    """Marks of a setup against the baseline."""
    (setup, base), found = pair, []
    for lane, m in enumerate(both):
        over = _of(m, setup, base)
        if over is None:
            continue
        colour, shape = look_of(theme, setup, order)
        low, high = ends(m.measure, over.these)
        found.append(
            Item(
                0,
                row,
                (lane + 0.5) / len(both),
                shown(m.measure, over.estimate),
                low,
                high,
                margin_band(m.measure, over.margin),
                colour,
                shape,
                lane == 0,
                ends(m.measure, over.like) if over.like else None,
                difference(m.measure, over.estimate, over.se_these),
            )
        )
    return found


def _of(judged: MeasureJudgement, setup: str, base: str) -> OverTitles | None:
    return next((o for o in judged.over if (o.setup, o.against) == (setup, base)), None)


def _caption(study: Study, both: Sequence[MeasureJudgement], titles: int, base: str) -> str:
    names = " and ".join(f"{spoken(m.measure)} ({'filled' if m is both[0] else 'open'} marks)" for m in both)
    level = f"{study.confidence * 100:g}{NO_BREAK}%"
    visits = spread([c.visits for m in both for c in m.cells], "visit")
    return sentence(
        f"{names}: geometric mean over {wording.counted(titles, 'title')}, each setup against {base}; {visits} a setup. "
        f"Thin bar: {level} interval for these titles; pale bar: for titles like these. Shaded: {margins_in_words(both)}."
        f"{frames_timed(study)}"
    )


def _alt(study: Study, both: Sequence[MeasureJudgement], base: str) -> str:
    rows = []
    for s in study.setups:
        own = [(m, o) for m in both if (o := _of(m, s.name, study.baseline)) is not None]
        if own:
            words = "; ".join(
                f"{spoken(m.measure)} {difference(m.measure, o.estimate, o.se_these)} "
                f"({difference(m.measure, o.these.low, o.se_these)} to {difference(m.measure, o.these.high, o.se_these)})"
                if math.isfinite(o.these.low)
                else f"{spoken(m.measure)} {difference(m.measure, o.estimate, o.se_these)}, no interval"
                for m, o in own
            )
            rows.append(f"{legible(s.label)}: {words}")
    return f"Over titles, against {base}. {'. '.join(rows)}."
