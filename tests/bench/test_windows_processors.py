"""Answers of Windows, laid out byte by byte as its maker documents SYSTEM_LOGICAL_PROCESSOR_INFORMATION_EX (from memory; never
yet held against a real Windows machine, see docs/windows-checklist.md).
"""

from __future__ import annotations

import pytest
from raw_answers import cache, core, laptop, package

from evenhand.bench.model import Kind
from evenhand.bench.windows_processors import windows_topology


def test_two_kinds_of_cores():
    found = windows_topology(laptop())
    assert (found.cores(Kind.PERFORMANCE), found.threads(Kind.PERFORMANCE)) == (6, (2,) * 6)
    assert (found.cores(Kind.EFFICIENCY), found.threads(Kind.EFFICIENCY)) == (8, (1,) * 8)
    assert len({c.module for c in found.online if c.kind is Kind.EFFICIENCY}) == 2
    assert found.packages == 1
    assert found.kind_from


def test_one_kind_is_not_called_efficient():
    found = windows_topology(b"".join(core(0b11 << (2 * i)) for i in range(8)) + package(0xFFFF))
    assert {c.kind for c in found.cpus} == {Kind.ALIKE}
    assert (found.cores(), len(found.online)) == (8, 16)


def test_a_second_group_goes_on_counting():
    found = windows_topology(core(1) + core(1, group=1))
    assert [c.number for c in found.cpus] == [0, 64]


def test_an_older_answer_without_a_number_of_masks():
    found = windows_topology(core(0b11) + cache(2, 0b11, groups=0))
    assert {c.module for c in found.cpus} == {0}


@pytest.mark.parametrize("kept", range(0, 400, 7))
def test_an_answer_that_breaks_off_gives_what_came_before(kept):
    whole, cut = windows_topology(laptop()), windows_topology(laptop()[:kept])
    assert {c.number for c in cut.cpus} <= {c.number for c in whole.cpus}
