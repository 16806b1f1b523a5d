"""The best use of some minutes: whole rounds where they fit, nothing above the minutes, what the present visit lacks first."""

from __future__ import annotations

import pytest
from campaigns import Bench, bench
from hypothesis import given, settings
from hypothesis import strategies as st

from evenhand.planning.use import best_use


def use(it: Bench, minutes: float):
    return best_use(it.made, it.state, minutes)


@settings(max_examples=60, deadline=None)
@given(
    begun=st.integers(0, 5), recorded=st.integers(0, 3), minutes=st.floats(1, 400), parts=st.integers(1, 2), spoil=st.booleans()
)
def test_laws(begun, recorded, minutes, parts, spoil):
    it = bench(parts=parts)
    it.go_on(begun)
    it.begin()
    for _ in range(min(recorded, sum(s.runs for s in it.state.present.scenes))):
        it.record()
    if spoil and begun:
        it.spoil(*it.begun[0])
    before, found = it.state, use(it, minutes)
    assert found.minutes <= minutes + 1e-9
    assert set(found.visits) <= set(before.ahead)
    assert found.rounds >= before.rounds and (found.first is None) == (not before.present.scenes)
    if found.broken:
        assert found.visits and not found.spare
    planned = [v for v in before.ahead if v.round is not None]
    taken = [v for v in found.visits if v.round is not None]
    assert taken == planned[: len(taken)]
    for visit in planned[len(taken) :] if taken and not found.broken else ():
        assert visit.visit not in {v.visit for v in taken}


def test_whole_rounds_and_what_is_left_over():
    """Three setups, visits of 22 minutes: a round takes 66."""
    it = bench()
    assert len(use(it, 66.1).visits) == 3 and use(it, 66.1).rounds == 1
    found = use(it, 66 + 30)
    assert (len(found.visits), found.rounds, found.spare, found.broken) == (3, 1, 1, False)
    assert found.minutes == pytest.approx(66)


def test_a_round_is_broken_only_where_not_even_one_fits():
    it = bench()
    found = use(it, 50)
    assert (len(found.visits), found.rounds, found.broken) == (2, 0, True)
    it.go_on(2)
    rest = use(it, 50)
    assert (len(rest.visits), rest.rounds, rest.broken) == (1, 1, False)


def test_what_the_present_visit_lacks_comes_first():
    it = bench()
    it.begin()
    found = use(it, 5)
    assert found.first is not None and found.visits == () and found.minutes == 5 and found.rounds == 0
    whole = use(it, 12 + 44)
    assert whole.first is not None and len(whole.visits) == 2 and whole.rounds == 1


def test_what_was_lost_uses_the_time_that_no_round_fits():
    it = bench()
    it.go_on(3)
    it.spoil(*it.begun[0], "t1")
    found = use(it, 30)
    [own] = found.visits
    assert own.round is None and own.minutes == pytest.approx(16) and found.rounds == 1


def test_too_little_time_for_anything():
    assert use(bench(), 10).visits == ()
