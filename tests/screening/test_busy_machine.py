import numpy as np
import pytest

from evenhand.screening.checks.busy_machine import best_step
from evenhand.screening.screen import screen


def slowed(ns, begin, end, factor):
    """Frames from begin to end `factor` times as long and as many fewer: the scene goes on by the clock."""
    rng = np.random.default_rng(7)
    inside = (np.arange(ns.size) >= begin) & (np.arange(ns.size) < end)
    keep = ~inside | (rng.random(ns.size) < 1 / factor)
    return np.where(inside, ns * factor, ns)[keep].astype(np.int64)


def test_a_load_in_part_is_found_with_its_stretch(bench, clean):
    ns = clean[6].whole.ns
    begin, end = int(0.3 * ns.size), int(0.6 * ns.size)
    (flag,) = bench.doubts(screen(bench.changed(clean, 6, slowed(ns, begin, end, 1.3))))
    assert flag.run == clean[6].key
    assert flag.reasons[0] == "busy-machine"
    assert flag.stretch_s is not None
    assert flag.stretch_s[0] == pytest.approx(ns[:begin].sum() / 1e9, abs=2)
    assert np.exp(flag.evidence["contrast"]) == pytest.approx(1.3, abs=0.1)


def test_a_load_by_time_slices_is_found(bench, clean):
    """Half of the frames wait for one to three usual frames, so that a second holds half as many."""
    rng = np.random.default_rng(2)
    ns = clean[6].whole.ns[rng.random(clean[6].whole.ns.size) < 0.5]
    waits = (rng.random(ns.size) < 0.5) * np.median(ns) * rng.uniform(1, 3, ns.size)
    (flag,) = bench.doubts(screen(bench.changed(clean, 6, (ns + waits).astype(np.int64))))
    assert flag.run == clean[6].key
    assert flag.reasons[0] == "busy-machine"
    assert "throughout" in flag.sentence


def test_a_slow_scene_is_not_a_load(clean, bench):
    """Every run is slow there: the course of the scene."""
    runs = clean
    for i, r in enumerate(clean):
        ns = r.whole.ns.copy()
        place = np.cumsum(ns) / ns.sum()
        ns[(place > 0.4) & (place < 0.6)] = ns[(place > 0.4) & (place < 0.6)] * 2
        runs = bench.changed(runs, i, ns)
    runs = [r for r in runs if r.key.title == "title0"]
    assert not [f for f in screen(runs).flags if f.check == "busy-machine"]


def test_best_step_finds_the_planted_stretch():
    blocks = np.zeros(48)
    blocks[12:24] = 0.4
    step = best_step(blocks)
    assert (step.begin, step.end) == (0.25, 0.5)
    assert step.contrast == pytest.approx(0.4)
    assert step.strength == pytest.approx(0.4 * np.sqrt(0.25 * 0.75))
