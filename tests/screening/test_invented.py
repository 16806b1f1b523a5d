"""The invented study, whose generator says what it did to which run: twelve titles, smooth, with their own stutters."""

import hashlib

import pytest

from evenhand.examples.invented import invented_frames, invented_study, invented_truth, keys
from evenhand.frames.stretch import apply, propose
from evenhand.screening.model import ScreenedRun, Weight
from evenhand.screening.screen import screen


@pytest.fixture(scope="module")
def found():
    scenes = {t.name: t.scenes[0] for t in invented_study().titles}
    frames = {key: invented_frames(key, seed=1) for key in keys()}
    stretches = {name: propose(f"{name}/{name}", "clock", [f for k, f in frames.items() if k.title == name]) for name in scenes}
    return screen(
        [
            ScreenedRun(k, scenes[k.title], f, apply(f, stretches[k.title]), hashlib.sha256(f.ns.tobytes()).hexdigest(), float(i))
            for i, (k, f) in enumerate(frames.items())
        ]
    )


def test_each_spoiled_run_is_found_with_its_reason(found):
    first = {f.run: f.check for f in found.flags if f.weight is Weight.DOUBTFUL}
    truth = invented_truth()
    assert {key: first.get(key) for key in truth.spoiled} == dict(truth.spoiled)


def test_first_runs_are_told_where_the_title_warms_up(found):
    truth = invented_truth()
    first = {f.run for f in found.flags if f.check == "first-run" and f.weight is Weight.DOUBTFUL}
    expected = {k for k in keys() if k.title in truth.warm_up and k.run == 1}
    assert len(expected & first) >= 0.9 * len(expected)
    assert not {k for k in first if k.title not in truth.warm_up}


def test_good_runs_are_left_alone(found):
    truth = invented_truth()
    wrongly = [k for k in found.doubtful() if k not in truth.spoiled and not (k.title in truth.warm_up and k.run == 1)]
    assert len(wrongly) <= 0.02 * found.runs


def test_the_capped_scene_is_one_note(found):
    capped = {t.name for t in invented_study().titles if t.scenes[0].cap}
    notes = [f for f in found.flags if f.check == "capped" and f.weight is Weight.NOTE]
    assert {f.run.title for f in notes} == capped
    assert len(notes) == len(capped)
