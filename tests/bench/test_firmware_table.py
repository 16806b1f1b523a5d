"""Tables laid out byte by byte as DMTF DSP0134 describes structure type 17 (offsets from memory)."""

from __future__ import annotations

import pytest
from raw_answers import END, OTHER, module

from evenhand.bench.firmware_table import memory_modules


def test_what_runs_slower_than_it_could_is_told():
    [found] = memory_modules(OTHER + module(16384) + END)
    assert (found.slot, found.size_bytes, found.kind, found.mts, found.rated_mts) == ("DIMM_A1", 2**34, "DDR5", 6000, 6400)


@pytest.mark.parametrize(("size", "extended", "size_bytes"), [(0x8400, 0, 2**20), (0x7FFF, 65536, 2**36), (8192, 0, 2**33)])
def test_sizes_in_kilobytes_and_beyond_a_word(size, extended, size_bytes):
    assert memory_modules(module(size, extended=extended) + END)[0].size_bytes == size_bytes


def test_an_empty_slot_is_no_module():
    assert memory_modules(module(0) + module(0xFFFF) + END) == ()


def test_an_old_table_states_no_running_rate():
    [found] = memory_modules(module(4096, length=0x1B) + END)
    assert (found.mts, found.rated_mts) == (None, 6400)


@pytest.mark.parametrize("kept", range(0, 120, 3))
def test_a_table_that_breaks_off_gives_what_came_before(kept):
    whole = OTHER + module(16384) + module(16384, "DIMM_B1") + END
    assert len(memory_modules(whole[:kept])) <= 2
