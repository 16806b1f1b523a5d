"""First-word latency and peak bandwidth of memory: JEDEC JESD79-5 speed bins, as data sheets and the press
print them (case 16b).
"""

from __future__ import annotations

import pytest

from evenhand.bench.memory import bandwidth_gb_s, cas_cycles, first_word_ns


def test_published_speed_bins(reference):
    case = reference("16b-memory-arithmetic")
    for given in case["inputs"]["modules"]:
        expected = case["expected"][given["name"]]
        printed = pytest.approx(given["published_ns"], abs=0.0051)  # 14.375 is printed as 14.38
        assert first_word_ns(given["cl"], given["mt_s"]) == printed
        assert first_word_ns(given["cl"], given["mt_s"]) == pytest.approx(expected["first_word_ns"])
        assert bandwidth_gb_s(given["mt_s"]) == pytest.approx(expected["bandwidth_gb_s_one_channel"])
        assert bandwidth_gb_s(given["mt_s"], 2) == pytest.approx(expected["bandwidth_gb_s_two_channels"])


@pytest.mark.parametrize("text", ["CL30", "cl 30", "30-38-38-96", "C30", "DDR5 CL30-36-36", "30"])
def test_timings_as_people_write_them(text):
    """Common practice, no source."""
    assert cas_cycles(text) == 30


@pytest.mark.parametrize("text", ["", "as it came"])
def test_timings_that_say_nothing(text):
    assert cas_cycles(text) is None
