"""Which setup a PC is in, and what changed."""

from __future__ import annotations

import dataclasses

import pytest
from raw_answers import LINUX, WINDOWS

from evenhand.bench.catalogue import same
from evenhand.bench.changes import differences
from evenhand.bench.model import Fact, Grade, Origin, Waiver
from evenhand.bench.proof import prove, says
from evenhand.bench.understand import snapshot
from evenhand.study.model import Factor, Level, Setup, Study

PC = snapshot(WINDOWS)  # 6 cores of two threads and 8 small ones: 20 logical processors


def study(expects=(None, None), more=(None, None)):
    """Two factors, as on a hybrid processor; expectations per level."""
    second = Factor(
        "second", "second threads", (Level("on", "on", expects=expects[0] or {}), Level("off", "off", expects=expects[1] or {}))
    )
    small = Factor("small", "small cores", (Level("yes", "yes", expects=more[0] or {}), Level("no", "no", expects=more[1] or {})))
    setups = [Setup(f"{a}-{b}", f"{a} · {b}", {"second": a, "small": b}) for a in ("on", "off") for b in ("yes", "no")]
    return Study("?", "on-yes", tuple(setups), (), (second, small))


def labels(asked):
    return {s.name: s.label for s in asked.setups}


THREADS = ({"threads_per_core": 2}, {"threads_per_core": 1})
SMALL = ({"efficiency_cores": 8}, {"efficiency_cores": 0})


def test_the_one_setup_whose_expectations_are_met():
    found = prove(study(THREADS, SMALL), PC)
    assert found.setup == "on-yes"
    assert set(found.mismatches) == {"on-no", "off-yes", "off-no"}
    assert found.mismatches["on-no"][0].sentence == "efficiency cores 8 where 0 is expected"
    assert says(found, labels(study())) == "This PC is in on · yes."


def test_nothing_expected_proves_nothing():
    found = prove(study(), PC)
    assert found.setup is None
    assert len(found.possible) == 4
    assert "does not tell them apart" in says(found, labels(study()))


def test_a_factor_without_expectation_leaves_two_possible():
    found = prove(study(THREADS), PC)
    assert (found.setup, found.possible) == (None, ("on-yes", "on-no"))


def test_what_cannot_be_read_cannot_prove():
    asked = study(({"memory_timings": "30-38"}, {"memory_timings": "40-40"}), SMALL)
    found = prove(asked, PC)
    assert found.setup is None
    assert found.possible == ("on-yes", "off-yes")
    assert "memory timings cannot be read here" in says(found, labels(asked))


def test_a_typed_in_fact_contradicts_but_does_not_prove():
    typed = dataclasses.replace(PC, facts={**PC.facts, "memory_timings": Fact("memory_timings", "40-40", Origin.TYPED)})
    asked = study(({"memory_timings": "30-38"}, {"memory_timings": "40-40"}), SMALL)
    found = prove(asked, typed)
    assert found.possible == ("off-yes",)
    assert found.setup is None


def test_a_pc_in_no_setup():
    found = prove(study(({"logical_cpus": 3}, {"logical_cpus": 5}), SMALL), PC)
    assert found.possible == ()
    assert says(found, labels(study())).startswith(
        "This PC is in none of the setups: not on · yes: logical processors 20 where 3"
    )


@pytest.mark.parametrize(
    ("key", "one", "other", "alike"),
    [
        ("memory_mts", 6000, 5986, True),
        ("memory_mts", 6000, 5600, False),
        ("board", "Maker  Board X", "maker board x", True),
        ("boost", True, False, False),
        ("boost", True, 1, False),
        ("logical_cpus", 20, 20.0, True),
    ],
)
def test_when_values_are_the_same(key, one, other, alike):
    assert same(key, one, other) is alike
    assert same(key, other, one) is alike


def test_differences_are_graded_and_those_that_are_meant_are_none():
    later = dataclasses.replace(
        PC,
        facts={
            **{k: f for k, f in PC.facts.items() if k != "mains"},
            "graphics_driver": Fact("graphics_driver", "32.0.16", Origin.READ),
            "efficiency_cores": Fact("efficiency_cores", 0, Origin.READ),
            "host": Fact("host", "other", Origin.READ),
        },
    )
    found = differences(PC, later, explained=["efficiency_cores"])
    assert [(d.key, d.grade) for d in found] == [
        ("graphics_driver", Grade.BLOCKS), ("mains", Grade.NOTE), ("host", Grade.NOTE),
    ]  # fmt: skip
    assert found[0].sentence == "graphics driver: 32.0.15 before, 32.0.16 now"
    looked_at = Waiver("graphics_driver", "32.0.16", "32.0.15", "same branch, no change for these titles", "ada")
    waived = differences(PC, later, ["efficiency_cores"], [looked_at])
    assert waived[-1].grade is Grade.NOISE
    assert waived[-1].waived.startswith("same branch")


def test_a_snapshot_does_not_differ_from_itself():
    assert differences(PC, PC) == ()
    assert differences(snapshot(LINUX), snapshot(LINUX)) == ()
