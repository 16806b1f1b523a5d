"""Charts of factor effects: side by side while they are few, one below the other where they are many."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenhand.charts import example
from evenhand.charts.draw import svg
from evenhand.charts.effects import all_effects, effect_name, factor_effects, many_effects
from evenhand.charts.levels import level_curves
from evenhand.study.model import Level

AVERAGE = example.judged("average", 1.0, 0.011)
MEMORY, POWER = example.STUDY.factors
WIDER = replace(example.STUDY, factors=(replace(MEMORY, levels=(*MEMORY.levels, Level("7200", "7200 MT/s", 7200.0))), POWER))


def many():
    """Three levels by two: five effects at each title and over titles."""
    more = [replace(e, levels=(("7200", "5200"), *e.levels[1:])) for e in AVERAGE.effects if "memory" in e.factors]
    effects = (*AVERAGE.effects, *more)
    return replace(AVERAGE, effects=(*effects, *(replace(e, title=None) for e in effects if e.title == "night-ferry")))


def test_few_effects_stand_side_by_side():
    assert not many_effects(AVERAGE)
    drawn = svg(factor_effects(example.STUDY, AVERAGE))
    assert "together" in drawn and "open marks" in factor_effects(example.STUDY, AVERAGE).caption


def test_many_effects_leave_what_each_factor_does_alone():
    judged = many()
    assert many_effects(judged)
    chart = factor_effects(WIDER, judged)
    assert "open marks" not in chart.caption and "together" not in svg(chart)
    every = all_effects(WIDER, judged)
    assert "7200 MT/s and 65 W together" in svg(every)
    assert every.alt.count(":") == 5


def test_an_effect_of_several_levels_names_them():
    joint = next(e for e in AVERAGE.effects if len(e.factors) == 2)
    assert effect_name(example.STUDY, joint) == "memory and power limit together"
    assert effect_name(WIDER, joint) == "6400 MT/s and 65 W together"


def test_nothing_to_draw():
    bare = replace(AVERAGE, effects=())
    with pytest.raises(ValueError, match="no effects"):
        factor_effects(example.STUDY, bare)
    with pytest.raises(ValueError, match="no effects"):
        all_effects(example.STUDY, bare)
    with pytest.raises(ValueError, match="no trend"):
        level_curves(example.STUDY, "memory", [AVERAGE])
