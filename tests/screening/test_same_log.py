from dataclasses import replace

import numpy as np

from evenhand.screening.model import Standing
from evenhand.screening.screen import screen


def test_the_same_bytes_twice(bench, clean):
    runs = list(clean)
    runs[1] = replace(runs[0], key=runs[1].key)
    (flag,) = bench.doubts(screen(runs))
    assert (flag.run, flag.check, flag.proposes) == (runs[1].key, "same-log", Standing.SET_ASIDE)
    assert "byte for byte" in flag.sentence


def test_the_same_frames_saved_with_fewer_digits(bench, clean):
    rounded = np.rint(clean[0].whole.ns / 1e4).astype(np.int64) * 10_000
    (flag,) = bench.doubts(screen(bench.changed(clean, 1, rounded)))
    assert (flag.run, flag.check) == (clean[1].key, "same-log")


def test_runs_of_one_steady_rate_are_not_the_same(bench):
    rng = np.random.default_rng(1)
    runs = bench.made(bench.making(titles=1, setups=1))
    for i in range(len(runs)):
        runs = bench.changed(runs, i, (16_666_667 + rng.integers(-5000, 5000, 2400)).astype(np.int64))
    runs = [replace(r, sha256=f"{i}") for i, r in enumerate(runs)]
    assert not [f for f in screen(runs).flags if f.check == "same-log"]
