"""Blind mode shows what was found and no setup's name."""

import numpy as np

from evenhand.screening.blind import hidden_names, hide_setups
from evenhand.screening.model import Screening
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
    back = {new: old for old, new in hidden_names({r.key.setup for r in runs}, 3).items()}
    assert len(back) == 3
    shown, hidden = screen(runs), hide_setups(screen(runs), runs, seed=3)
    assert {(back[f.run.setup], f.check) for f in hidden.flags} == {(f.run.setup, f.check) for f in shown.flags}


def test_the_seed_draws_the_order():
    assert hidden_names("ABC", 1) == hidden_names("CAB", 1)
    assert len({tuple(hidden_names("ABC", s).values()) for s in range(20)}) > 1


def test_neither_the_order_nor_a_remark_gives_setups_away(bench, clean):
    """Flags stand in the order of the hidden names, and remarks that list setups in the study's order are left out."""
    runs = bench.changed(clean, 6, (clean[6].whole.ns * 1.4).astype(np.int64))
    shown = screen(runs)
    hidden = hide_setups(Screening(shown.flags, shown.runs, ("cannot tell “A” from “B”", "no names")), runs, seed=3)
    assert [f.run for f in hidden.flags] == sorted(f.run for f in hidden.flags)
    assert hidden.untold == ("no names", "1 remark that would name setups left out while they are hidden.")
