import numpy as np
import pytest

from evenhand.screening.levels import fit_levels
from evenhand.screening.model import Weight
from evenhand.screening.screen import screen
from evenhand.study.model import RunKey


def test_a_run_apart_from_its_cell_is_found(bench, fixed):
    index = next(i for i, r in enumerate(fixed) if r.key.run == 2)
    (flag,) = bench.doubts(screen(bench.changed(fixed, index, (fixed[index].whole.ns * 1.12).astype(np.int64))))
    assert flag.run == fixed[index].key
    assert "odd-run" in flag.reasons
    assert flag.check in {"odd-run", "wrong-setup"}


def test_of_two_runs_it_cannot_be_told_which_is_odd(bench):
    pairs = bench.made(bench.making(titles=6, visits=1, runs=2))
    index = next(i for i, r in enumerate(pairs) if r.key.run == 2)
    found = screen(bench.changed(pairs, index, (pairs[index].whole.ns * 0.8).astype(np.int64)))
    flags = [f for f in found.flags if f.check == "odd-run"]
    assert flags
    assert {f.weight for f in flags} == {Weight.NOTE}
    assert any("fewer than two others in the cell" in u for u in found.untold)


def test_a_shift_shared_by_the_visit_is_not_odd():
    """Two titles, two setups, three visits, two runs; the second visit of one setup is 30 % slower throughout."""
    rng = np.random.default_rng(5)
    keys = [RunKey(t, t, s, v, r) for t in "ab" for s in "xy" for v in (1, 2, 3) for r in (1, 2)]
    value = np.array([(k.title == "a") * 0.5 + rng.normal(0, 0.01) - 0.3 * (k.setup == "x" and k.visit == 2) for k in keys])
    levels = fit_levels(keys, value)
    there = [i for i, k in enumerate(keys) if (k.setup, k.visit) == ("x", 2)]
    assert levels.shift[there] == pytest.approx(-0.3, abs=0.05)
    assert np.all(np.abs(levels.odd) < 0.06)


def test_the_loss_that_could_pass_unseen_is_said(bench):
    noisy = bench.made(bench.making(run=0.08))
    assert any("cannot be told from the runs' own spread" in u for u in screen(noisy).untold)
