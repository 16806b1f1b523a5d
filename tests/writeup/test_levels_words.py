"""What a factor does along its numbers, as it is told."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenhand.charts import example
from evenhand.judging.model import Coefficient, Interval, Knee, Verdict
from evenhand.measures.catalogue import CATALOGUE
from evenhand.units import NO_BREAK
from evenhand.writeup.levels_words import curve_sentence, slope_of, step_rows

STUDY, AVERAGE = example.speeds()
TREND = next(t for t in AVERAGE.trends if t.title is None)
RATE = CATALOGUE["average"]
GAIN = Coefficient(0.043, 0.006, 12.0, Interval(0.026, 0.060, 0.95))


def said(knee: Knee | None, **other: object) -> str:
    return curve_sentence(STUDY, replace(TREND, knee=knee, **other), RATE).replace(NO_BREAK, " ")  # type: ignore[arg-type]


def test_it_pays_up_to_a_level() -> None:
    assert said(Knee("5600", "5600", GAIN)) == (
        "memory speed: more pays up to 5600 MT/s, +4.4 % (+2.6 to +6.2 %) over 4800 MT/s; beyond it nothing brings more than the "
        "margin of 3 %"
    )


def test_the_lowest_is_enough() -> None:
    assert said(Knee("4800", "4800")) == ("memory speed: 4800 MT/s is enough, no higher level brings more than the margin of 3 %")


def test_it_pays_up_to_the_highest() -> None:
    last = "more pays up to 6400 MT/s, the highest tried, +4.4 % (+2.6 to +6.2 %) over 4800 MT/s"
    assert said(Knee("6400", "6400", GAIN)).endswith(last)


@pytest.mark.parametrize(
    ("knee", "words"),
    [
        (Knee("5200", "6000"), "somewhere from 5200 MT/s to 6000 MT/s; where exactly these runs cannot tell"),
        (Knee("5200", "6400"), "somewhere from 5200 MT/s to 6400 MT/s, the highest tried; where exactly these runs cannot tell"),
        (Knee("4800", "6400"), "these runs cannot tell whether more than 4800 MT/s brings more than the margin of 3 %"),
        (None, "one visit a setup cannot tell where more ends to pay"),
    ],
)
def test_what_cannot_be_told_is_said(knee: Knee | None, words: str) -> None:
    assert said(knee).endswith(words)


def test_a_level_that_is_behind_the_one_below_it_is_named() -> None:
    last = replace(TREND.steps[-1], estimate=-0.05, interval=Interval(-0.08, -0.02, 0.95), verdict=Verdict.BEHIND_BEYOND)
    text = said(Knee("5600", "5600", GAIN), steps=(*TREND.steps[:-1], last))
    assert text.endswith("; 6400 MT/s is behind 6000 MT/s, −4.9 % (−7.7 to −2.0 %)")


def test_an_additive_curve_says_so() -> None:
    assert said(Knee("4800", "4800"), additive=True).endswith(", as far as factors do not need each other")


def test_the_slope_is_of_a_doubling_or_of_the_smallest_step() -> None:
    name, slope = slope_of(TREND)
    assert name == "each 400 more" and slope.estimate == pytest.approx(400 * TREND.per_unit.estimate)
    wide = replace(TREND, per_doubling=GAIN, points=tuple(replace(p, value=2.0**i) for i, p in enumerate(TREND.points)))
    assert slope_of(wide) == ("each doubling", GAIN)


def test_rows_of_steps_line_and_bend() -> None:
    rows = [[cell.replace(NO_BREAK, " ") for cell in row] for row in step_rows(STUDY, TREND, RATE)]
    assert [row[0] for row in rows[:2]] == ["4800 MT/s to 5200 MT/s", "5200 MT/s to 5600 MT/s"]
    assert rows[0][1].startswith("+2.3 % (") and rows[0][2] == "ahead, by how much is open"
    assert rows[-2][0] == "straight line, each 400 more" and rows[-2][2] == "rises"
    assert rows[-1][2] == "each further step brings less"
    flat = replace(TREND, direction=0, bend=replace(TREND.bend, interval=Interval(-1.0, 1.0, 0.95)))
    assert step_rows(STUDY, flat, RATE)[-1][2] == "no bend told"
    assert math.isfinite(TREND.bend.estimate)
