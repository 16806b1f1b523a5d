"""Raw answers to facts: what is said is found, what is not said stays unread."""

from __future__ import annotations

import json

import pytest
from raw_answers import LINUX, WINDOWS

from evenhand.bench.catalogue import FACTS
from evenhand.bench.collect import FORM, collect
from evenhand.bench.model import Origin
from evenhand.bench.understand import snapshot
from evenhand.errors import BenchError


def values(answers):
    return {key: fact.value for key, fact in snapshot(answers).facts.items()}


def test_linux():
    found = values(LINUX)
    assert (found["logical_cpus"], found["physical_cores"], found["threads_per_core"]) == (4, 2, 2)
    assert (found["processor"], found["microcode"]) == ("Some Processor 9", "0x2b")
    assert (found["governor"], found["boost"], found["max_clock_mhz"]) == ("performance", True, 5200)
    assert found["mitigations"] == "off for spectre_v2 (mitigations=off)"
    assert (found["board"], found["firmware_version"]) == ("Maker Board X", "1.20 04/01/2026")
    assert (found["power_limit_w"], found["mains"], found["load"]) == (125, True, 0.31)
    assert (found["memory_gb"], found["memory_mts"], found["memory_kind"], found["memory_modules"]) == (32, 6000, "DDR5", 2)
    assert (found["graphics_card"], found["graphics_driver"]) == ("AMD 0x744c", "amdgpu of the kernel, 6.9.4-arch")
    assert (found["system"], found["system_build"]) == ("A Linux 3", "6.9.4-arch")
    assert found["busy"] == "indexer 0.90, updater 0.40"


def test_windows():
    found = values(WINDOWS)
    assert (found["performance_cores"], found["efficiency_cores"], found["logical_cpus"]) == (6, 8, 20)
    assert (found["processor"], found["microcode"]) == ("Some Processor 9", "0x12b")
    assert (found["system"], found["system_build"]) == ("Windows 11 Pro 24H2", "26100.4061")
    assert (found["graphics_card"], found["graphics_driver"], found["graphics_scheduling"]) == ("Some Card", "32.0.15", True)
    assert (found["memory_gb"], found["memory_mts"], found["mains"]) == (32, 6000, True)
    assert found["power_plan"] == "high performance"


@pytest.mark.parametrize("answers", [LINUX, WINDOWS])
def test_every_fact_is_read_or_said_to_be_unread(answers):
    told = snapshot(answers)
    assert set(told.facts) | set(told.unread) == set(FACTS)
    assert not set(told.facts) & set(told.unread)
    assert all(f.origin is Origin.READ and f.where for f in told.facts.values())


def test_a_system_that_says_next_to_nothing():
    bare = {"form": FORM, "taken_at": "2026-05-01T10:00:00+00:00", "logical_cpus": 8, "platform": {"system": "Other"}}
    told = snapshot(bare)
    assert told.facts["logical_cpus"].value == 8
    assert "memory_mts" in told.unread


def test_why_memory_is_unread_is_said():
    refused = LINUX | {"tables": {}, "unread": {"sys/firmware/dmi/tables/DMI": "PermissionError: Permission denied"}}
    assert snapshot(refused).unread["memory_mts"] == "sys/firmware/dmi/tables/DMI: PermissionError: Permission denied"


def test_this_pc():
    """Whatever runs the tests: the collector's answers survive being written, and its count is the system's own."""
    answers = json.loads(json.dumps(collect()))
    told = snapshot(answers)
    assert told.facts["logical_cpus"].value >= 1
    assert told.taken_at


def test_another_file_is_refused():
    with pytest.raises(BenchError, match=r"it says 'x' where a snapshot says .*\[not-a-snapshot\]\n  -> Take it with"):
        snapshot({"form": "x"})
