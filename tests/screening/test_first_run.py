import numpy as np

from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def stuttering(ns):
    """One frame in forty takes five times as long, and the four frames after it never came: the scene goes on by the clock."""
    out = ns.copy()
    out[::40] *= 5
    return out[(np.arange(ns.size) % 40 == 0) | (np.arange(ns.size) % 40 > 4)]


def test_a_first_run_that_stutters_is_found(bench, clean):
    index = next(i for i, r in enumerate(clean) if r.key.run == 1 and r.key.title == "title1")
    (flag,) = bench.doubts(screen(bench.changed(clean, index, stuttering(clean[index].whole.ns))))
    assert (flag.run, flag.check) == (clean[index].key, "first-run")
    assert "its slowest hundredth" in flag.sentence


def test_later_runs_are_never_first_runs(bench, clean):
    index = next(i for i, r in enumerate(clean) if r.key.run == 2)
    assert not [f for f in screen(bench.changed(clean, index, stuttering(clean[index].whole.ns))).flags if f.check == "first-run"]


def test_first_runs_slower_on_the_whole_are_a_note(bench):
    runs = bench.made(bench.making(run=0.01, seed=8))
    for i, r in enumerate(runs):
        if r.key.run == 1:
            runs = bench.changed(runs, i, np.rint(r.whole.ns * 1.015).astype(np.int64))
    found = screen(runs)
    assert not [f for f in bench.doubts(found) if f.check == "first-run"]
    (flag,) = [f for f in found.flags if f.check == "first-run"]
    assert flag.weight is Weight.NOTE
    assert len(flag.covers) == 24
