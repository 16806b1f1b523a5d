"""What changed, which comparisons straddle it, and the least that makes them good again, on made-up snapshots of a hybrid
processor. What is right is counted by hand in each case.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from raw_answers import hybrid

from evenhand.bench.history import bench_account
from evenhand.bench.least import least_to_redo
from evenhand.bench.model import Effect, SeenVisit, Waiver
from evenhand.bench.understand import snapshot
from evenhand.study.model import Factor, Level, Setup, Study, Title

SECOND = Factor("second", "second threads", (Level("on", "on", expects={"threads_per_core": 2}),
                                             Level("off", "off", expects={"threads_per_core": 1})))  # fmt: skip
SMALL = Factor(
    "small", "small cores", (Level("yes", "yes", expects={"logical_cpus": 20}), Level("no", "no", goes_with=("boost",)))
)
SETUPS = tuple(Setup(f"{a}-{b}", f"{a} · {b}", {"second": a, "small": b}) for a in ("on", "off") for b in ("yes", "no"))
STUDY = Study(
    "?", "on-yes", SETUPS, (Title("night-ferry", "Night Ferry", ()), Title("ironvale", "Ironvale", ())), (SECOND, SMALL)
)


def seen(setup, visit, *, at=10, runs=2, titles=None, again=None, **files):
    """A visit with a snapshot at its beginning, and with `again` another later one that differs in those files."""
    threads, small = setup.split("-")
    shots = [hybrid(threads == "on", small == "yes", f"2026-05-01T{at:02}:00:00+00:00", **files)]
    if again is not None:
        shots.append(hybrid(threads == "on", small == "yes", f"2026-05-01T{at:02}:40:00+00:00", **again))
    counts = {"night-ferry": runs, "ironvale": runs} if runs else {}
    return SeenVisit(setup, visit, f"2026-05-01T{at:02}:00:00+00:00", True, tuple(map(snapshot, shots)), runs=counts,
                     titles=titles or {})  # fmt: skip


NEW = {"bios_version": "1.21"}


def places(redo):
    return [(r.setup, r.visit, r.title) for r in redo]


def test_what_factors_explain_is_no_change():
    visits = [seen(s.name, 1, at=9 + i) for i, s in enumerate(SETUPS)]
    visits += [seen("off-no", 2, at=14, **{"cpufreq/boost": "0"})]
    found = bench_account(STUDY, visits, (), rounds=False)
    # boost goes with the level "no": it may differ from "yes", but not between the two visits of one setup
    assert [(c.before, c.after, c.difference.key) for c in found.changes] == [(("off-no", 1), ("off-no", 2), "boost")]


def test_a_change_inside_a_round_is_mended_by_its_smaller_side():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10), seen("off-yes", 1, at=11), seen("off-no", 1, at=12, **NEW)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert [(c.difference.key, c.before, c.after, c.effect) for c in found.changes] == [
        ("firmware_version", ("off-yes", 1), ("off-no", 1), Effect.STALE)
    ]
    assert found.stale == (("on-yes", "off-no", ""), ("on-no", "off-no", ""), ("off-yes", "off-no", ""))
    assert [(r.setup, r.visit, r.runs, r.needs) for r in found.least] == [("off-no", 1, 4, ("firmware 1.20 04/01/2026",))]
    unseen = SeenVisit("on-yes", 2, "", False, runs={"ironvale": 2})  # its time is not known either, so it comes last
    assert bench_account(STUDY, [*visits, unseen], (), rounds=True).least == found.least
    assert places(found.now) == [("on-yes", 1, ""), ("on-no", 1, ""), ("off-yes", 1, "")]


def test_a_change_between_rounds_is_taken_out_with_the_round():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10), seen("on-no", 2, at=11, **NEW), seen("on-yes", 2, at=12, **NEW)]
    rounds = bench_account(STUDY, visits, (), rounds=True)
    assert [c.effect for c in rounds.changes] == [Effect.ROUNDS]
    assert (rounds.stale, rounds.least, rounds.now) == ((), (), ())
    pooled = bench_account(STUDY, visits, (), rounds=False)
    assert [c.effect for c in pooled.changes] == [Effect.STALE]
    assert places(pooled.least) == [("on-yes", 1, ""), ("on-no", 1, "")]  # two either way: the PC is as it is now
    assert pooled.least[0].needs == ()
    assert ("on-yes", "on-yes", "") in pooled.stale
    assert (pooled.rounds_would, rounds.rounds_would) == (True, False)


def test_a_round_that_a_change_parts_and_one_that_it_does_not():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10), seen("on-no", 2, at=11), seen("on-yes", 2, at=12, **NEW)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert places(found.least) == [("on-no", 2, "")]  # one of the two; the earlier, so that the firmware stays


def test_a_change_in_the_course_of_a_visit_spoils_that_visit():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10, again=NEW), seen("off-yes", 1, at=11, **NEW)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert found.changes[0].inside
    assert found.changes[0].effect is Effect.STALE
    assert ("on-no", 1, "") in places(found.least)
    assert len(found.least) == 2  # and one of the two others


def test_what_nobody_recorded_yet_makes_nothing_stale():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10, runs=0, **NEW)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert [c.effect for c in found.changes] == [Effect.LATER]
    assert found.stale == ()


def test_a_change_at_a_visit_without_results_is_the_cause_all_the_same():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10, runs=0, **NEW), seen("off-no", 1, at=11, **NEW)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert [(c.after, c.effect) for c in found.changes] == [(("on-no", 1), Effect.STALE)]
    assert found.stale == (("on-yes", "off-no", ""),)


def test_what_could_be_read_for_a_while_only_is_noted_once():
    """An administrator's snapshots and others see unlike much."""
    bare = [seen(s.name, 1, at=12 + i, scaling_governor="") for i, s in enumerate(SETUPS[:2])]
    for visit in bare:
        for shot in visit.snapshots:
            del shot.facts["power_limit_w"]
    found = bench_account(STUDY, [seen("on-yes", 2, at=9), seen("on-no", 2, at=10), *bare], (), rounds=False)
    assert [(c.difference.key, c.before, c.after, c.effect) for c in found.changes] == [
        ("power_limit_w", ("on-no", 2), ("on-yes", 1), Effect.NONE), ("power_limit_w", ("on-no", 2), ("on-no", 1), Effect.NONE),
    ]  # fmt: skip
    assert found.stale == ()


def test_two_changes_of_one_fact_are_told_apart():
    """1.20 to 1.21 between the rounds, 1.21 to 1.22 in the second."""
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10), seen("on-no", 2, at=11, **NEW)]
    visits += [seen("on-yes", 2, at=12, bios_version="1.22")]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert [c.effect for c in found.changes] == [Effect.ROUNDS, Effect.STALE]


def test_a_waived_change_stays_listed_with_its_reason():
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10, **NEW)]
    waiver = Waiver("firmware_version", "1.21 04/01/2026", "1.20 04/01/2026", "adds a logo", "ada")
    found = bench_account(STUDY, visits, [waiver], rounds=True)
    assert [(c.effect, c.difference.waived) for c in found.changes] == [(Effect.NONE, "adds a logo")]
    assert found.stale == ()
    third = bench_account(STUDY, [*visits, seen("off-no", 1, at=11, bios_version="1.22")], [waiver], rounds=True)
    assert places(third.least) == [("off-no", 1, "")]  # the waiver is of two values, not of the fact


def test_a_game_build_concerns_its_title_alone():
    old, new = {("ironvale", "build"): ("1.0",)}, {("ironvale", "build"): ("1.1",)}
    visits = [seen("on-yes", 1, at=9, titles=old), seen("on-no", 1, at=10, titles=new), seen("off-no", 1, at=11, titles=new)]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert found.stale == (("on-yes", "on-no", "ironvale"), ("on-yes", "off-no", "ironvale"))
    assert [(r.setup, r.title, r.runs, r.needs) for r in found.least] == [("on-yes", "ironvale", 2, ())]
    assert found.changes[0].difference.sentence == "build of Ironvale: 1.0 before, 1.1 now"
    waiver = Waiver("ironvale: build", "1.0", "1.1", "only words", "ada")
    assert bench_account(STUDY, visits, [waiver], rounds=True).stale == ()


def test_a_game_that_changed_in_the_course_of_a_visit_spoils_that_visit_of_it():
    became = {("ironvale", "build"): ("1.0", "1.1")}
    visits = [seen("on-yes", 1, at=9, titles=became), seen("on-no", 1, at=10, titles={("ironvale", "build"): ("1.1",)})]
    found = bench_account(STUDY, visits, (), rounds=True)
    assert [(c.inside, c.title, c.effect) for c in found.changes] == [(True, "ironvale", Effect.STALE)]
    assert found.stale == (("on-yes", "on-yes", "ironvale"),)
    assert places(found.least) == places(found.now) == [("on-yes", 1, "ironvale")]
    assert found.straddles("on-no", "on-yes", "ironvale")
    assert found.straddles("on-no", "on-yes")
    assert not found.straddles("on-no", "on-yes", "night-ferry")


def test_setups_that_are_not_made_of_factors_are_compared_with_themselves_only():
    bare = Study("?", "on-yes", tuple(Setup(s.name, s.label) for s in SETUPS), STUDY.titles)
    visits = [seen("on-yes", 1, at=9), seen("on-no", 1, at=10, **NEW), seen("on-yes", 2, at=11, **NEW)]
    found = bench_account(bare, visits, (), rounds=False)
    assert [(c.before, c.after) for c in found.changes] == [(("on-yes", 1), ("on-yes", 2))]


def test_a_label_that_was_given_before_anything_was_expected():
    found = bench_account(STUDY, [seen("on-yes", 1), SeenVisit("off-yes", 1, "", False)], (), rounds=True)
    wrong = bench_account(STUDY, [SeenVisit("off-yes", 1, "", True, seen("on-yes", 1).snapshots)], (), rounds=True)
    assert [(v.proven, v.contradicted) for v in found.visits] == [(True, ()), (False, ())]
    assert not wrong.visits[0].proven
    assert [m.key for m in wrong.visits[0].contradicted] == ["threads_per_core"]


@given(st.lists(st.integers(0, 2), min_size=1, max_size=12))
def test_of_states_that_exclude_one_another_the_most_frequent_stays(states):
    members = list(range(len(states)))
    odds = {i: {j for j in members if states[i] != states[j]} for i in members}
    chosen = least_to_redo(members, odds, {})
    assert len(chosen) == len(states) - max(map(states.count, states))
    assert len({states[i] for i in members if i not in chosen}) == 1


@given(
    st.integers(2, 7).flatmap(lambda n: st.tuples(st.just(n), st.sets(st.sampled_from([*itertools.combinations(range(n), 2)]))))
)
def test_no_smaller_set_would_do(drawn):
    """Against every set there is."""
    n, pairs = drawn
    odds = {i: {b if a == i else a for a, b in pairs if i in (a, b)} for i in range(n)}
    chosen = least_to_redo(range(n), odds, {})
    covers = [
        set(c) for size in range(n + 1) for c in itertools.combinations(range(n), size) if all(a in c or b in c for a, b in pairs)
    ]
    assert all(a in chosen or b in chosen for a, b in pairs)
    assert len(chosen) == min(map(len, covers))


@pytest.mark.parametrize("runs", [{0: 5, 1: 2}, {0: 2, 1: 5}])
def test_of_equal_sets_that_with_the_fewest_runs(runs):
    assert least_to_redo([0, 1], {0: {1}, 1: {0}}, runs) == {min(runs, key=runs.__getitem__)}
