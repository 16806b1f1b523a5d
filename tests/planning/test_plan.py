"""Plans: every visit once, rounds whole, minutes added up, days not overfilled."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planned import COSTS, study

from evenhand.errors import PlanError
from evenhand.planning.plan import plan, split


@settings(max_examples=40, deadline=None)
@given(
    titles=st.integers(1, 7),
    setups=st.integers(1, 5),
    visits=st.integers(1, 4),
    parts=st.integers(1, 3),
    hours=st.sampled_from([None, 1.5, 4.0]),
    seed=st.integers(0, 9),
)
def test_laws_of_a_plan(titles, setups, visits, parts, hours, seed):
    asked = study(titles, setups, visits)
    minutes = None if hours is None else hours * 60
    made = plan(asked, seed, minutes, min(parts, titles))
    assert made == plan(asked, seed, minutes, min(parts, titles))
    assert [v.order for v in made.visits] == list(range(1, len(made.visits) + 1))
    recorded = sorted((v.setup, v.part, v.round, s.title) for v in made.visits for s in v.scenes)
    parts_of = split(asked, None, min(parts, titles))
    wanted = sorted(
        (s.name, p, r, t.name)
        for s in asked.setups
        for p, own in enumerate(parts_of, 1)
        for r in range(1, visits + 1)
        for t in own
    )
    assert recorded == wanted
    numbers = [(v.setup, v.visit) for v in made.visits]
    assert len(set(numbers)) == len(numbers)
    assert {v.again for v in made.visits[:1]} == {False}
    for before, after in itertools.pairwise(made.visits):
        assert after.again == (before.setup == after.setup)
        assert after.day in (before.day, before.day + 1)
    if minutes is not None:
        for day in range(1, made.days + 1):
            today = [v for v in made.visits if v.day == day]
            assert sum(v.minutes for v in today) <= minutes or len(today) == 1


def test_within_a_round_all_setups_play_the_titles_in_one_order():
    made = plan(study(titles=5), seed=2)
    for r in range(1, made.rounds + 1):
        assert len({v.scenes for v in made.visits if v.round == r}) == 1
    assert len({v.scenes for v in made.visits}) == 3


def test_titles_are_split_where_a_visit_does_not_fit_a_day():
    """10 minutes to enter and 6 a title: an hour holds 8 of 20 titles, so three parts."""
    made = plan(study(titles=20), seed=1, day_minutes=60)
    assert made.parts == 3
    assert max(v.minutes for v in made.visits) <= 60


def test_a_round_is_kept_in_one_day_where_it_fits():
    made = plan(study(titles=3, setups=2, visits=3), seed=1, day_minutes=100)
    for r in range(1, 4):
        assert len({v.day for v in made.visits if v.round == r}) == 1


def test_a_day_too_short_for_one_title_is_refused():
    with pytest.raises(
        PlanError, match=r"one visit with T 1 alone takes 16 min.*\[plan-day\]\n  -> allow more than 15 min a day"
    ):
        plan(study(), seed=1, day_minutes=15)


def test_more_parts_than_titles_are_refused():
    with pytest.raises(PlanError, match=r"--parts: 3 titles cannot be split into 5 parts  \[plan-parts\]\n  -> choose 1 to 3"):
        plan(study(), seed=1, parts=5)


def test_going_out_of_a_setup_and_into_it_again_takes_applying_twice():
    made = plan(study(setups=2, visits=2), seed=1)
    [again] = [v for v in made.visits if v.again]
    assert again.minutes == made.visits[0].minutes + 6
    assert "1 round begins with the setup that ended the last" in made.notes[0]


def test_titles_that_do_not_fit_the_disk_together_are_split():
    asked = study(titles=4, costs=replace(COSTS, disk_gb=200.0))
    asked = replace(asked, titles=tuple(replace(t, install_gb=90.0) for t in asked.titles))
    assert plan(asked, seed=1).parts == 2
    forced = plan(asked, seed=1, parts=1)
    assert "at least 160 GB" in forced.notes[-1]


def test_a_title_larger_than_the_disk_is_refused():
    asked = study(titles=1, costs=replace(COSTS, disk_gb=50.0))
    asked = replace(asked, titles=(replace(asked.titles[0], install_gb=90.0),))
    with pytest.raises(PlanError, match=r"T 1 takes 90 GB where the disk has room for 50 GB  \[plan-disk\]"):
        plan(asked, seed=1)


def test_practice_runs_of_a_scene_go_before_the_protocols():
    asked = study(titles=1)
    by_hand = replace(asked.titles[0].scenes[0], practice_runs=1)
    asked = replace(asked, titles=(replace(asked.titles[0], scenes=(by_hand,)),))
    assert {s.warmup_runs for v in plan(asked, seed=1).visits for s in v.scenes} == {1}
