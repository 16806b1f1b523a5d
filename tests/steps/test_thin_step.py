"""Which titles to keep: what is told, the time it saves, sizes that are no choice."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.errors import UsageError
from evenhand.steps.judge import judge_study
from evenhand.steps.material import material
from evenhand.steps.thin import as_json, thin_study
from evenhand.steps.titles import dependence_of


def test_two_titles_are_too_few_to_choose_from(judged: Path) -> None:
    found = thin_study(judged, (1,))
    assert found.thinning.choices == ()
    assert found.sections[0].heading == "There are too few titles to choose from"
    document = json.loads(as_json(found))
    assert (document["form"], document["thinning"]["choices"]) == ("evenhand-thin-1", [])


def test_a_size_that_is_no_choice_and_minutes_that_are_none(judged: Path) -> None:
    with pytest.raises(UsageError) as caught:
        thin_study(judged, (2, 0, 1), 0.0)
    told = [f"{p.slug} {p.where} {p.what}" for p in caught.value.problems]
    assert told == [
        "keep-titles --keep 2 of 2 titles cannot be chosen",
        "keep-titles --keep 0 of 2 titles cannot be chosen",
        "keep-titles --minutes a title cannot take 0 minutes",
    ]


def test_the_judgement_carries_what_depends_on_titles(judged: Path) -> None:
    found = judge_study(judged)
    over = found.material.dependence
    assert over is not None and {o.setup for o in over.over} == {"lean"}
    assert over == dependence_of(found.opened.outcome, found.material.groups)
    assert over.setup is not None and over.setup.setup == "lean"
    assert material(found.opened.outcome, found.opened.stretches).thinning is None, "only a report looks for titles to keep"
