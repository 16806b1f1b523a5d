import numpy as np
import pytest

from evenhand.frames.model import Frames
from evenhand.screening.checks.lone_stall import stalls_of
from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def stalled(ns, at, ms):
    out = ns.copy()
    out[at] += int(ms * 1e6)
    return out


@pytest.mark.parametrize("ms", [250, 400, 2000])
def test_a_stop_is_found_with_its_place(bench, clean, ms):
    index, at = 4, 700
    (flag,) = bench.doubts(screen(bench.changed(clean, index, stalled(clean[index].whole.ns, at, ms))))
    assert (flag.run, flag.check) == (clean[index].key, "lone-stall")
    assert flag.stretch_s is not None
    assert flag.stretch_s[0] == pytest.approx(clean[index].whole.ns[:at].sum() / 1e9)
    assert flag.evidence["ms"] == pytest.approx(ms, abs=60)


def test_a_scene_that_always_stalls_there_is_not_doubtful(bench, clean):
    runs = clean
    for i, r in enumerate(clean):
        if r.key.title == "title2":
            runs = bench.changed(runs, i, stalled(r.whole.ns, 900, 300))
    found = screen([r for r in runs if r.key.title == "title2"])
    assert not [f for f in bench.doubts(found) if f.check == "lone-stall"]
    notes = [f for f in found.flags if f.check == "lone-stall"]
    assert notes
    assert {f.weight for f in notes} == {Weight.NOTE}


def test_hitches_below_a_tenth_of_a_second_are_the_games_own(bench, clean):
    assert not bench.doubts(screen(bench.changed(clean, 4, stalled(clean[4].whole.ns, 700, 60))))


def test_a_slow_passage_is_no_stall():
    ns = np.full(200, 8_000_000)
    ns[80:120] = 150_000_000
    assert not stalls_of(Frames(ns), 15.0)
