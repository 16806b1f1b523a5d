import numpy as np
import pytest

from evenhand.screening.checks.clock_trouble import tick_ms
from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def test_repeated_stamps_are_found(bench, clean):
    ns = clean[1].whole.ns.copy()
    at = np.arange(50, ns.size - 1, 200)
    ns[at + 1] += ns[at] - 1000
    ns[at] = 1000
    (flag,) = bench.doubts(screen(bench.changed(clean, 1, ns)))
    assert (flag.run, flag.check) == (clean[1].key, "clock-trouble")
    assert flag.evidence["share"] == pytest.approx(at.size / ns.size)


def test_a_clock_of_whole_milliseconds_is_noted_once(bench, clean):
    runs = clean
    for i, r in enumerate(clean):
        runs = bench.changed(runs, i, np.maximum(1, np.rint(r.whole.ns / 1e6)).astype(np.int64) * 1_000_000)
    flags = [f for f in screen(runs).flags if f.check == "clock-trouble"]
    assert [(f.weight, f.evidence["tick_ms"], len(f.covers)) for f in flags] == [(Weight.NOTE, 1.0, len(clean))]


def test_a_fine_clock_has_no_tick(clean):
    assert all(tick_ms(r.whole.ns) == 0 for r in clean)
