"""Setups that cannot be told from the best: a stroke before the label, with words for it in picture and alternative text."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from evenhand.charts import example
from evenhand.charts.draw import svg
from evenhand.charts.model import Form
from evenhand.charts.over import over_titles
from evenhand.charts.theme import BENCH_BOOK, PAGE, PHONE, SCREEN
from evenhand.charts.titles import title_rows
from evenhand.judging.model import AgainstBest, Interval, MeasureJudgement

FORMS = (PAGE, PHONE, SCREEN)


def told_best(*setups: str) -> MeasureJudgement:
    """The example's average, with these setups not to be told from the best at Moss & Ember and over titles."""
    span = Interval(-0.01, 0.0, 0.95)
    found = [
        AgainstBest("average", title, s.name, -0.01, span, s.name in setups)
        for title in ("moss-ember", None)
        for s in example.STUDY.setups
    ]
    return replace(example.judged("average", 1.0, 0.01), best=tuple(found))


@pytest.mark.parametrize("form", FORMS, ids=lambda f: f.name)
def test_setups_that_may_be_the_best_have_a_stroke_and_words_for_it(form: Form) -> None:
    average = told_best("full", "lean")
    rows, over = title_rows(example.STUDY, "moss-ember", average, form=form), over_titles(example.STUDY, average, form=form)
    for chart, strokes in ((rows, 3), (over, 2)):  # one in the legend; the baseline has no row over titles
        assert chart.alt.endswith(" May be the best in the average: 6400 · 65 W or 6400 · 45 W.")
        assert "may be the best in the average" in "".join(ElementTree.fromstring(svg(chart)).itertext())
        upright = [
            row
            for layer in chart.spec["layer"]
            if layer["mark"]["type"] == "rule" and layer["mark"].get("color") == BENCH_BOOK.ink
            for row in layer["data"]["values"]
        ]
        assert len(upright) == strokes and all(row["px"] == row["px2"] and row["py"] < row["py2"] for row in upright)
    none = title_rows(example.STUDY, "moss-ember", example.judged("average", 1.0, 0.01), form=form)
    assert "best" not in none.alt and "best" not in svg(none)


def test_over_titles_a_best_baseline_is_told_in_the_caption() -> None:
    chart = over_titles(example.STUDY, told_best("full"))
    assert chart.caption.endswith(" May be the best in the average: 6400 · 65 W.")
    assert "may be the best" not in "".join(ElementTree.fromstring(svg(chart)).itertext())
