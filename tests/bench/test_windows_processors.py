"""Answers of Windows, laid out byte by byte as its maker documents SYSTEM_LOGICAL_PROCESSOR_INFORMATION_EX (from memory; never
yet held against a real Windows machine, see docs/windows-checklist.md).
"""

from __future__ import annotations

import struct

import pytest

from evenhand.bench.model import Kind
from evenhand.bench.windows_processors import windows_topology


def affinity(mask, group=0):
    return struct.pack("<QH6x", mask, group)


def core(mask, efficiency=0, group=0):
    flags = 1 if mask.bit_count() > 1 else 0
    body = struct.pack("<BB20xH", flags, efficiency, 1) + affinity(mask, group)
    return struct.pack("<II", 0, 8 + len(body)) + body


def package(mask):
    body = struct.pack("<BB20xH", 0, 0, 1) + affinity(mask)
    return struct.pack("<II", 3, 8 + len(body)) + body


def cache(level, mask, groups=1):
    body = struct.pack("<BBHIi18xH", level, 8, 64, 2**20, 0, groups) + affinity(mask)
    return struct.pack("<II", 2, 8 + len(body)) + body


def laptop():
    """Six cores of two threads, class 1; eight small ones, class 0, four to a second-level cache."""
    large = b"".join(core(0b11 << (2 * i), 1) + cache(2, 0b11 << (2 * i)) for i in range(6))
    small = b"".join(core(1 << (12 + i), 0) for i in range(8))
    return large + small + cache(2, 0xF << 12) + cache(2, 0xF << 16) + cache(3, (1 << 20) - 1) + package((1 << 20) - 1)


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
