"""Processors of real machines: values of their topology files from the test archives of hwloc (tests/hwloc, commit 3b37b024
of 2026, BSD-3-Clause), with what each machine is known to have.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.bench.model import Kind
from evenhand.bench.topology import cpu_list, cpu_mask, linux_topology

MACHINES = sorted((Path(__file__).parent / "data" / "topology").glob("*.json"))

LAPTOP = "20em64t-hybrid-1p6c2t-2ca4co1t"


def machine(name):
    return json.loads((MACHINES[0].parent / f"{name}.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", MACHINES, ids=lambda p: p.stem)
def test_cores_and_threads_are_those_of_the_machine(path):
    known = json.loads(path.read_text(encoding="utf-8"))
    found = linux_topology(known["sysfs"])
    kinds = {"all": None, "performance": Kind.PERFORMANCE, "efficiency": Kind.EFFICIENCY}
    for kind, (cores, threads) in (known["expected_cores_and_threads"] or {}).items():
        assert (found.cores(kinds[kind]), sum(found.threads(kinds[kind]))) == (cores, threads)


def test_a_laptop_with_two_kinds_has_two_threads_on_the_large_ones_only():
    found = linux_topology(machine(LAPTOP)["sysfs"])
    assert found.threads(Kind.PERFORMANCE) == (2,) * 6
    assert found.threads(Kind.EFFICIENCY) == (1,) * 8
    assert len({c.module for c in found.online if c.kind is Kind.EFFICIENCY}) == 2  # "2ca4co": two clusters of four cores


def test_processors_that_are_switched_off_are_kept_and_not_counted():
    """What is off by its own `online` file, or has no topology: counted here independently of the code."""
    files = machine("16em64t-4s2c2t-offlines")["sysfs"]
    off = {k.split("/")[4] for k, v in files.items() if k.endswith("/online") and v == "0"}
    found = linux_topology(files)
    with_topology = {k.split("/")[4] for k in files if "/topology/core_id" in k}
    assert {f"cpu{c.number}" for c in found.online} == with_topology - off
    assert any(not c.online and c.core is None for c in found.cpus)


def test_four_sockets():
    assert linux_topology(machine("16em64t-4s2c2t")["sysfs"]).packages == 4


def test_lists_and_masks_say_the_same_where_a_machine_has_both():
    files = machine(LAPTOP)["sysfs"]
    checked = 0
    for path, text in files.items():
        twin = files.get(f"{path.removesuffix('_list')}") if path.endswith("_cpus_list") else None
        if twin is not None:
            assert cpu_list(text) == cpu_mask(twin)
            checked += 1
    assert checked > 50
