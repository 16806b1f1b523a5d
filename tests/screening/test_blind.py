"""Blind mode shows what was found and no setup's name."""

import numpy as np

from evenhand.screening.blind import hidden_names, hide_setups
from evenhand.screening.screen import screen


def test_no_setup_name_is_left(bench, clean):
    runs = bench.changed(clean, 6, (clean[6].whole.ns * 1.4).astype(np.int64))
    shown = screen(runs)
    hidden = hide_setups(shown, runs, seed=3)
    names = {r.key.setup for r in runs}
    text = " ".join([f.sentence for f in hidden.flags] + list(hidden.untold))
    assert len(hidden.flags) == len(shown.flags) > 0
    assert not names & {k.setup for f in hidden.flags for k in (f.run, *f.covers)}
    assert not [n for n in names if f"“{n}”" in " ".join([*hidden.untold, text])]


def test_the_way_back(bench, clean):
    runs = bench.changed(clean, 6, (clean[6].whole.ns * 1.4).astype(np.int64))
    back = {new: old for old, new in hidden_names(runs, 3).items()}
    assert len(back) == 3
    shown, hidden = screen(runs), hide_setups(screen(runs), runs, seed=3)
    assert [back[f.run.setup] for f in hidden.flags] == [f.run.setup for f in shown.flags]


def test_the_seed_draws_the_order(clean):
    assert hidden_names(clean, 1) == hidden_names(clean, 1)
    assert len({tuple(hidden_names(clean, s).values()) for s in range(20)}) > 1
