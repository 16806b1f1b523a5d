"""The mark of setups that cannot be told from the best: an upright stroke before the label, the same in every chart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from evenhand import wording
from evenhand.charts.model import Theme
from evenhand.charts.sheet import Layer, Panel, legible, rules, spoken, texts
from evenhand.judging.model import MeasureJudgement
from evenhand.study.model import Study

#: Room for the stroke before a label, and the height of its line in the legend, in sizes of text.
INDENT: Final = 0.75
LEGEND: Final = 1.35


def may_be_best(judged: MeasureJudgement, title: str | None) -> frozenset[str]:
    """Setups that cannot be told from the best at a title, or over titles (None); none where nothing is told."""
    return frozenset(b.setup for b in judged.best if b.title == title and b.may_be_best)


def best_in_words(study: Study, judged: MeasureJudgement, title: str | None) -> str:
    """` May be the best in the average: A or B.`, with a blank before it; empty where nothing is told."""
    may = may_be_best(judged, title)
    names = [legible(s.label) for s in study.setups if s.name in may]
    return f" May be the best in the {spoken(judged.measure)}: {wording.listed(names, 'or')}." if names else ""


def strokes(panel: Panel, theme: Theme, at: Sequence[tuple[float, float]], size: float) -> Layer:
    """Strokes whose middles stand `at` (left, middle) in pixels, for text of that size."""
    rows = [{"px": x + 0.2 * size, "px2": x + 0.2 * size, "py": y - 0.5 * size, "py2": y + 0.5 * size} for x, y in at]
    return rules(panel, rows, theme.ink, size / 5)


def legend(panel: Panel, theme: Theme, judged: MeasureJudgement, left: float, middle: float, size: float) -> list[Layer]:
    """What the stroke means, beside one."""
    words = [{"t": f"may be the best in the {spoken(judged.measure)}", "px": left + INDENT * size, "py": middle}]
    return [
        strokes(panel, theme, [(left, middle)], size),
        texts(panel, theme, words, size, italic=True, serif=True, colour=theme.soft),
    ]
