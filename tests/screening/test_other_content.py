import numpy as np
import pytest

from evenhand.screening.content import match
from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def test_another_scene_at_the_same_rate_is_found(bench, clean):
    index, other = 3, 30
    ns = clean[other].whole.ns * (np.median(clean[index].whole.ns) / np.median(clean[other].whole.ns))
    (flag,) = bench.doubts(screen(bench.changed(clean, index, ns.astype(np.int64))))
    assert flag.run == clean[index].key
    assert flag.reasons[0] == "other-content"
    assert flag.evidence["match"] < 3.5 < flag.evidence["usual"]


def test_a_short_piece_of_another_scene_is_other_content_first(bench, fixed):
    ns = fixed[30].whole.ns[:2500] * (np.median(fixed[3].whole.ns) / np.median(fixed[30].whole.ns))
    (flag,) = bench.doubts(screen(bench.changed(fixed, 3, ns.astype(np.int64), missing=0.375)))
    assert flag.reasons[:2] == ("other-content", "too-short")


def test_a_scene_begun_half_a_second_late_is_still_the_scene(bench, clean):
    ns = clean[3].whole.ns
    late = ns[np.cumsum(ns) > 5e8]
    assert not [f for f in bench.doubts(screen(bench.changed(clean, 3, late))) if f.check == "other-content"]


def test_flat_scenes_are_said_to_be_untold(bench):
    flat = bench.made(bench.making(lively=0.0))
    found = screen(flat)
    assert not bench.doubts(found)
    assert [u for u in found.untold if u.startswith("title0: the course of the scene is too flat")]


def test_two_runs_cannot_say_which_is_the_scene(bench):
    two = bench.made(bench.making(titles=2, setups=1, visits=1, runs=2))
    mixed = bench.changed(two, 0, two[2].whole.ns)
    flags = [f for f in screen(mixed).flags if f.check == "other-content"]
    assert all(f.weight is Weight.NOTE for f in flags)


def test_match_of_unrelated_courses_is_about_nothing():
    rng = np.random.default_rng(3)
    found = np.array([match(rng.normal(size=400), rng.normal(size=400)) for _ in range(400)])
    assert abs(found.mean()) < 0.2
    assert found.std() == pytest.approx(1.3, abs=0.1)  # the two scales share some detail
    assert np.mean(found > 3.5) < 0.01
