import numpy as np
import pytest

from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def warming(bench, loss):
    runs = bench.made(bench.making(visits=4, setups=2, visit=0.003, run=0.004))
    last = max(r.position for r in runs)
    for i, r in enumerate(runs):
        runs = bench.changed(runs, i, np.rint(r.whole.ns * (1 + loss * r.position / last)).astype(np.int64))
    return runs


def test_a_machine_that_grows_warm_is_noted_not_doubted(bench):
    found = screen(warming(bench, 0.10))
    (flag,) = [f for f in found.flags if f.check == "drift"]
    assert flag.weight is Weight.NOTE
    assert flag.evidence["change"] == pytest.approx(-0.09, abs=0.02)
    assert "fell" in flag.sentence
    assert len(flag.covers) == found.runs


def test_no_drift_no_note(bench):
    assert not [f for f in screen(warming(bench, 0.0)).flags if f.check == "drift"]
