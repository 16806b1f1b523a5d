from dataclasses import replace

import numpy as np
import pytest

from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def held(ns, rate, seed=1):
    """Frames that wait for a cap, held to half a per cent."""
    rng = np.random.default_rng(seed)
    return np.maximum(ns, 1e9 / rate * (1 + 0.005 * np.abs(rng.standard_normal(ns.size)))).astype(np.int64)


@pytest.mark.parametrize("rate", [30, 45])
def test_a_capped_run_is_found_and_its_cap_named(bench, clean, rate):
    (flag,) = bench.doubts(screen(bench.changed(clean, 2, held(clean[2].whole.ns, rate))))
    assert (flag.run, flag.check) == (clean[2].key, "capped")
    assert flag.evidence["cap"] == rate
    assert f"a cap at {rate} a second" in flag.sentence


def scene_held(clean, rate):
    return [
        replace(r, whole=(f := type(r.whole)(held(r.whole.ns, rate, i))), cut=replace(r.cut, counted=f, last=len(f)))
        if r.key.title == "title1"
        else r
        for i, r in enumerate(clean)
    ]


def test_a_scene_capped_in_all_runs_is_a_note_about_the_scene(bench, clean):
    found = screen(scene_held(clean, 40))
    assert not bench.doubts(found)
    (flag,) = [f for f in found.flags if f.check == "capped"]
    assert flag.weight is Weight.NOTE
    assert len(flag.covers) == 12
    assert "Every run of the scene is held at 40 frames a second" in flag.sentence


def test_the_cap_that_the_study_states_is_no_reason_to_doubt(bench, clean):
    runs = bench.changed(clean, 2, held(clean[2].whole.ns, 40))
    runs = [replace(r, scene=replace(r.scene, cap=40.0)) for r in runs]
    found = screen(runs)
    assert not [f for f in bench.doubts(found) if f.check == "capped"]
    assert [f for f in found.flags if f.check == "capped" and "the study states" in f.sentence]


@pytest.mark.parametrize("spread", [0.005, 0.02])
def test_a_steady_game_is_not_capped(bench, spread):
    steady = bench.made(bench.making(cv=0.004, lively=0.004, run=spread, seed=6))
    assert not [f for f in screen(steady).flags if f.check == "capped"]


def test_a_setup_that_was_capped_in_all_its_runs_is_found(bench, clean):
    """Others exceed the cap, so it is not the scene's."""
    runs = clean
    for i, r in enumerate(clean):
        if (r.key.title, r.key.setup) == ("title0", "s1"):
            runs = bench.changed(runs, i, held(r.whole.ns, 45, i))
    capped = {f.run for f in bench.doubts(screen(runs)) if f.check == "capped"}
    assert capped == {r.key for r in clean if (r.key.title, r.key.setup) == ("title0", "s1")}
