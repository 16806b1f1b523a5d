"""Which runs a visit still misses, with and without a plan."""

from __future__ import annotations

import pytest

from evenhand.planning.expected import expected
from evenhand.planning.plan import plan
from evenhand.study.model import Protocol, RunKey, Scene, Setup, Study, Title

STUDY = Study(
    "What does the lean setup bring?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=tuple(Title(name, name, (Scene(name, name),)) for name in ("ironvale", "night-ferry", "quiet-orbit")),
    protocol=Protocol(visits=2, runs=2),
)
VISIT = ("lean", 1)


def key(title: str, run: int, setup: str = "lean", visit: int = 1) -> RunKey:
    return RunKey(title, title, setup, visit, run)


def test_without_a_plan_all_scenes_are_expected_in_the_studys_order():
    wanted = expected(STUDY, None, {}, VISIT)
    assert wanted == tuple(key(t.name, run) for t in STUDY.titles for run in (1, 2))


@pytest.mark.parametrize("seed", range(4))
def test_with_a_plan_they_come_in_its_order(seed):
    made = plan(STUDY, seed)
    planned = next(v.scenes for v in made.visits if (v.setup, v.visit) == VISIT)
    assert [k.title for k in expected(STUDY, made, {}, VISIT)] == [s.title for s in planned for _ in range(2)]


def test_what_is_there_is_not_expected_and_other_visits_do_not_count():
    there = {key("ironvale", 1): True, key("ironvale", 2): True, key("night-ferry", 1, visit=2): True}
    there[key("quiet-orbit", 1, setup="plain")] = True
    assert [k.title for k in expected(STUDY, None, there, VISIT)] == ["night-ferry"] * 2 + ["quiet-orbit"] * 2


def test_a_run_to_be_redone_is_expected_again_under_the_next_number():
    there = {key("ironvale", 1): True, key("ironvale", 2): False}
    assert expected(STUDY, None, there, VISIT)[0] == key("ironvale", 3)


def test_more_runs_than_planned_are_no_debt_of_another_scene():
    there = {key(t.name, run): True for t in STUDY.titles for run in (1, 2)} | {key("ironvale", 3): True}
    assert expected(STUDY, None, there, VISIT) == ()
