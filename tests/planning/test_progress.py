"""A campaign carried out by what the plan asks for: every run once, whatever is spoiled or interrupted, no more than needed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from campaigns import bench
from hypothesis import given, settings
from hypothesis import strategies as st
from planned import study

from evenhand.study.model import RunKey


@pytest.mark.parametrize("parts", [1, 2])
def test_without_a_fault_the_plan_is_asked_for_run_by_run_and_nothing_else(parts):
    it = bench(parts=parts)
    assert it.state.minutes == pytest.approx(it.made.minutes)
    it.go_on(len(it.made.visits))
    wanted = [
        RunKey(s.title, s.scene, v.setup, v.visit, r) for v in it.made.visits for s in v.scenes for r in range(1, s.runs + 1)
    ]
    assert list(it.runs) == wanted
    assert it.state.due is None and it.state.minutes == 0
    assert (it.state.over, it.state.rounds) == (len(it.made.visits), 2)


@settings(max_examples=60, deadline=None)
@given(
    titles=st.integers(1, 3),
    setups=st.integers(1, 4),
    visits=st.integers(1, 3),
    parts=st.integers(1, 2),
    runs=st.integers(1, 3),
    seed=st.integers(0, 10_000),
)
def test_whatever_is_spoiled_every_scene_gets_its_visits(titles, setups, visits, parts, runs, seed):
    """Runs are spoiled while a visit goes on and after it, visits are left unfinished: in the end each scene has under each setup
    as many visits with a run that counts as the protocol asks for, and no run was asked for twice (`record` checks it).
    """
    rng = np.random.default_rng(seed)
    it = bench(titles, setups, visits, runs, min(parts, titles))
    faults = 6
    for _ in range(600):
        due = it.state.due
        if due is None:
            break
        if not due.begun:
            it.begin()
        else:
            it.record(kept=not (faults and rng.random() < 0.15))
        if faults and rng.random() < 0.1:
            faults -= 1
            if rng.random() < 0.5 and it.begun:
                it.end()
            elif it.runs:
                key = list(it.runs)[rng.integers(len(it.runs))]
                it.spoil(key.setup, key.visit, key.title)
    assert it.state.due is None
    counted = Counter((k.title, k.setup) for k in {replace(k, run=1) for k, kept in it.runs.items() if kept})
    assert all(counted[t.name, s.name] >= visits for t in it.asked.titles for s in it.asked.setups)
    assert not it.state.lost


def test_a_run_spoiled_in_its_visit_is_recorded_there_again():
    it = bench()
    it.begin()
    first = it.record(kept=False)
    assert it.state.due.expected == replace(first, run=2)
    it.record()
    it.record()
    assert sum(k.title == first.title for k in it.runs) == 3 and it.state.due.expected.title != first.title


def test_the_last_visit_is_still_open_when_its_last_run_is_spoiled():
    it = bench()
    it.go_on()
    setup, _ = it.begun[0]
    last = list(it.runs)[-1]
    it.runs[last] = False
    assert it.state.due.expected == replace(last, run=3) and it.state.due.minutes == pytest.approx(2 + 1 + 1.5)
    it.end()
    assert it.state.due.setup != setup and it.state.thin[0].runs == 1 and not it.state.lost


def test_of_a_visit_that_is_over_one_good_run_is_enough():
    """A run recorded later would be another visit's: nothing is planned for it."""
    it = bench()
    it.go_on(2)
    key = next(iter(it.runs))
    it.runs[key] = False
    assert it.state.lost == () and [(t.title, t.runs, t.of) for t in it.state.thin] == [(key.title, 1, 2)]
    assert it.state.minutes == pytest.approx(sum(v.minutes for v in it.made.visits[2:]))


def test_a_title_that_lost_its_visit_gets_one_of_its_own_after_the_plan():
    it = bench()
    it.go_on(2)
    setup, visit = it.begun[0]
    it.spoil(setup, visit, "t1")
    [lost] = it.state.lost
    assert (lost.setup, lost.visit, lost.title, lost.into) == (setup, 1, "t1", 3)
    [own] = [v for v in it.state.ahead if v.round is None]
    assert (own.setup, own.visit, own.round, [s.title for s in own.scenes]) == (setup, 3, None, ["t1"])
    assert own.minutes == pytest.approx(6 + 4 + 2 + 1 + 3) and not any(v.anew for v in it.state.ahead)
    it.go_on(len(it.state.ahead))
    assert it.state.due is None and sum(k.visit == 3 for k in it.runs) == 2


def test_a_spoiled_visit_comes_back_as_a_whole_and_only_once():
    it = bench()
    it.go_on(6)
    it.spoil(*it.begun[2])
    [own] = it.state.ahead
    assert own.setup == it.begun[2][0] and len(own.scenes) == 2
    it.go_on()
    assert it.state.due is None


def test_what_was_lost_joins_a_later_visit_that_is_made_for_other_titles():
    """Two parts: the visit of part 2 brings back what part 1 lost, without another firmware change."""
    it = bench(parts=2)
    it.go_on(4)  # round 1 of part 1, one visit of part 2
    setup = next(v.setup for v in it.made.visits[4:6])
    it.spoil(setup, 1)
    [lost] = it.state.lost
    assert lost.into == 2
    joined = next(v for v in it.state.ahead if (v.setup, v.visit) == (setup, 2))
    assert [(s.title, s.again) for s in joined.scenes] == [("t2", False), ("t1", True)]
    assert all(v.round is not None for v in it.state.ahead)
    it.go_on(len(it.state.ahead))
    assert it.state.due is None


def test_a_setup_that_follows_itself_is_applied_anew():
    it = bench(setups=2, visits=2)
    it.go_on(2)
    assert it.state.due.anew and it.state.due.minutes == pytest.approx(it.made.visits[2].minutes)


def test_practice_runs_are_not_made_again():
    it = bench(protocol=replace(study().protocol, visits=1, runs=3, warmup_runs=1))
    it.begin()
    assert it.state.due.scenes[0].practice == 1
    key = it.record(kept=False)
    assert it.state.due.scenes[0].practice == 0
    it.record()
    it.record()
    assert it.state.due.expected.title != key.title


def test_runs_that_the_study_no_longer_names_are_passed_over():
    it = bench()
    it.runs[RunKey("gone", "gone", "s1", 1, 1)] = True
    assert it.state.over == 0
