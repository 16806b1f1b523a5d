"""What people forget: said where it concerns the study, counted by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from planned import COSTS, study

from evenhand.planning.forgotten import changes, forgotten
from evenhand.planning.plan import plan
from evenhand.study.model import Apply, Factor, Level, Setup


def said(asked, parts=None):
    return {f.key: f for f in forgotten(asked, plan(asked, 1, parts=parts))}


def crossed(apply=Apply.PARTS):
    """Two factors of two levels, in four setups."""
    one = Factor("memory", "memory", (Level("a", "A"), Level("b", "B")), apply)
    two = Factor("limit", "power limit", (Level("x", "X"), Level("y", "Y")), Apply.COMMAND)
    setups = tuple(Setup(f"{m}{x}", f"{m}{x}", {"memory": m, "limit": x}) for m in "ab" for x in "xy")
    return replace(study(), factors=(one, two), setups=setups, baseline="ax")


def test_shaders_are_counted_once_a_setup_and_title():
    """Three titles, four setups, 2.5 minutes each."""
    found = said(study(costs=replace(COSTS, shaders=2.5)))["shaders"]
    assert found.counted and found.minutes == 30 and "3 min for each title" in found.sentence
    bare = said(study())["shaders"]
    assert not bare.counted and bare.minutes is None and "no minutes are stated" in bare.sentence


@pytest.mark.parametrize(
    ("apply", "keys"),
    [
        (Apply.PARTS, {"shaders", "memory-training", "updates", "activations"}),
        (Apply.FIRMWARE, {"shaders", "memory-training", "updates"}),
        (Apply.MANUAL, {"shaders", "updates"}),
    ],
)
def test_only_what_concerns_the_study_is_said(apply, keys):
    assert set(said(crossed(apply))) == keys


def test_parts_that_change_are_counted():
    asked = crossed()
    made = plan(asked, 1)
    order = [v.setup[0] for v in made.visits]
    by_hand = sum(a != b for a, b in itertools.pairwise(order))
    assert changes(asked, made)["memory"] == by_hand > 0
    assert f"memory changes {by_hand} times" in said(asked)["activations"].sentence


def sized(room, size=90.0):
    asked = study(titles=4, visits=2, costs=replace(COSTS, disk_gb=room))
    return replace(asked, titles=tuple(replace(t, install_gb=size) for t in asked.titles))


def test_room_on_the_disk():
    assert said(sized(None))["disk"].gb == 360 and "install and update" in said(sized(400.0))["disk"].sentence
    assert "disk" not in said(study())


def test_titles_that_do_not_fit_are_moved():
    """Two parts of 180 GB: after the first visit only the change of part brings anything new, 180 GB."""
    found = said(sized(200.0))["disk"]
    assert found.gb == 180 and "180 GB are to be moved or fetched again" in found.sentence


def test_forced_into_one_part_every_visit_would_move_them():
    """With all four titles in every visit nothing can be left out: the note of the plan says what that costs."""
    assert "every visit would have to move or fetch again at least 160 GB" in plan(sized(200.0), 1, parts=1).notes[-1]
