"""Titles that answer alike: each kind of answer, put in and found."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from invented_runs import RATE, WAIT, design, square

from evenhand.judging.groups import response_groups
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Preference, Response, ResponseGroup, Row
from evenhand.measures.model import Better, Measure, Scale

LOW = Measure("low", "Low", "frames per second", Better.HIGHER, Scale.LOG, 0.05, "", "")
FLAT = (0.0, 0.0, 0.0, 0.0)
Effects = tuple[float, ...]


def rows(titles: Mapping[str, tuple[Effects, Effects]], measure: str = "rate", noise: float = 0.004, seed: int = 3) -> list[Row]:
    """(average, low) log effects of each title under A, B, ..., three visits."""
    rng = np.random.default_rng(seed)
    return [
        Row(title, "ABCD"[c], v, 1, key, float(100 * np.exp(effect + rng.normal(0, noise))))
        for title, pair in titles.items()
        for key, effects in zip((measure, "low"), pair, strict=True)
        for c, effect in enumerate(effects)
        for v in (1, 2, 3)
    ]


def groups(
    titles: Mapping[str, tuple[Effects, Effects]], plan: Design | None = None, **more: object
) -> tuple[ResponseGroup, ...]:
    plan = plan or design("ABCD", RATE, LOW, **square())
    return response_groups(judge(rows(titles, **more), plan), plan.measures[0].key, "low")  # type: ignore[arg-type]


def both(*effects: float) -> tuple[Effects, Effects]:
    return effects, effects


def test_each_answer_is_told_and_every_title_is_in_one_group():
    """B has x on, C has y on, D has both."""
    found = groups(
        {
            "flat": both(*FLAT),
            "flat too": both(*FLAT),
            "likes x off": both(0.0, -0.08, 0.0, -0.08),
            "likes both off": both(0.0, -0.08, -0.06, -0.14),
            "hurt by both": both(0.0, 0.0, 0.0, -0.2),
            "each is enough": both(0.0, -0.1, -0.1, -0.1),
            "low only": (FLAT, (0.0, -0.15, 0.0, -0.15)),
        }
    )
    told = {title: g for g in found for title in g.titles}
    assert sum(len(g.titles) for g in found) == len(told) == 7
    assert {t: g.kind for t, g in told.items()} == {
        "flat": Response.LEVEL,
        "flat too": Response.LEVEL,
        "likes x off": Response.PREFERS,
        "likes both off": Response.PREFERS,
        "hurt by both": Response.COMBINATION,
        "each is enough": Response.DEPENDS,
        "low only": Response.DISAGREE,
    }
    assert told["likes x off"].prefers == (Preference("x", "off", "on"),)
    assert told["likes both off"].prefers == (Preference("x", "off", "on"), Preference("y", "off", "on"))
    assert told["hurt by both"].levels == (("x", "on"), ("y", "on")) and told["hurt by both"].setups == ("D",)
    assert told["low only"].setups == ("B", "D")


def test_a_level_that_helps_is_preferred_and_less_may_be_better():
    plan = design("ABCD", WAIT, LOW, **square())
    table = rows({"a": both(0.0, -0.1, 0.0, -0.1)}, "wait")
    (group,) = response_groups(judge(table, plan), "wait", "low")
    assert group.prefers == (Preference("x", "on", "off"),), "a low of the other direction is left out"


def test_without_factors_the_setups_are_named():
    found = groups(
        {"a": both(0.0, 0.0, -0.1, -0.1), "b": both(0.0, 0.0, -0.2, -0.1), "c": both(*FLAT)}, design("ABCD", RATE, LOW)
    )
    assert [(g.kind, g.titles, g.setups) for g in found] == [
        (Response.LEVEL, ("c",), ()),
        (Response.SETUPS, ("a", "b"), ("C", "D")),
    ]


def test_the_better_of_three_levels():
    levels = {s: {"x": name} for s, name in zip("ABC", ("one", "two", "three"), strict=True)}
    plan = design("ABC", RATE, LOW, levels=levels, factors={"x": ("one", "two", "three")})
    found = groups({"a": both(0.0, 0.05, 0.12), "b": both(0.0, 0.0, -0.12)}, plan)
    told = {t: g.prefers for g in found for t in g.titles}
    assert told == {"a": (Preference("x", "three", "one"),), "b": (Preference("x", "one", "three"),)}


def test_a_smaller_margin_alone_is_no_disagreement():
    """−4 % is beyond the average's margin of 3 % and within the low's of 5 %."""
    (group,) = groups({"a": both(0.0, -0.04, 0.0, -0.04)}, noise=0.002)
    assert group.kind is Response.PREFERS


def test_noise_and_a_single_visit_leave_it_open():
    (group,) = groups({"a": both(0.0, -0.02, 0.01, 0.0)}, noise=0.06)
    assert group.kind is Response.OPEN
    plan = design("ABCD", RATE, LOW, **square())
    once = [r for r in rows({"a": both(0.0, -0.2, 0.0, -0.2)}) if r.visit == 1]
    assert [g.kind for g in response_groups(judge(once, plan), "rate", "low")] == [Response.OPEN]


def test_a_level_average_with_an_unsettled_low_says_so():
    plan = design("ABCD", RATE, LOW, **square())
    table = [r for r in rows({"a": both(*FLAT), "b": both(*FLAT)}) if r.measure == "rate"]
    noisy = [r for r in rows({"a": both(*FLAT), "b": both(*FLAT)}, noise=0.1) if r.measure == "low"]
    (group,) = response_groups(judge(table + noisy, plan), "rate", "low")
    assert group.kind is Response.LEVEL and set(group.low_open) == {"a", "b"}


@pytest.mark.parametrize("low", [None, "nothing of the kind", "rate"])
def test_a_low_that_was_not_judged_is_left_out(low):
    judgement = judge(rows({"low only": (FLAT, (0.0, -0.15, 0.0, -0.15))}), design("ABCD", RATE, LOW, **square()))
    assert [g.kind for g in response_groups(judgement, "rate", low)] == [Response.LEVEL]
    assert response_groups(judgement, "nothing of the kind") == ()
