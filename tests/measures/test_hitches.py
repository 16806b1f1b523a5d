"""Hitches: what stands out is found, what belongs to the scene is not."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.model import Frames
from evenhand.measures.hitches import hitch_marks, moments, neighbourhood


def frames(ms) -> Frames:
    return Frames(np.rint(np.asarray(ms, dtype=float) * 1e6).astype(np.int64))


def calm(rate: float, seconds: float, seed: int, spread: float = 0.05) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return 1000 / rate * np.exp(spread * rng.standard_normal(int(rate * seconds)))


@pytest.mark.parametrize("rate", [30, 60, 144, 400])
def test_calm_scenes_have_none_and_long_frames_are_found(rate):
    ms = calm(rate, 60, seed=rate)
    assert moments(hitch_marks(frames(ms))) == 0
    places = np.arange(5, ms.size, ms.size // 20)
    ms[places] = 8 + 1.8 * ms[places]
    marks = hitch_marks(frames(ms))
    assert set(places) == set(np.flatnonzero(marks))
    assert moments(marks) == places.size


def test_under_eight_milliseconds_nothing_is_a_hitch():
    ms = np.full(2000, 4.0)
    ms[1000] = 11.9
    assert moments(hitch_marks(frames(ms))) == 0
    ms[1000] = 12.1
    assert moments(hitch_marks(frames(ms))) == 1


def test_neighbouring_long_frames_are_one_hitch():
    ms = calm(100, 20, 3)
    ms[500:504] = 60
    ms[900] = 60
    assert moments(hitch_marks(frames(ms))) == 2


def test_a_slow_phase_is_not_a_hitch_and_a_hitch_in_it_is():
    ms = np.concatenate((calm(120, 10, 1), calm(40, 10, 2), calm(120, 10, 3)))
    assert moments(hitch_marks(frames(ms))) == 0
    ms[1400] = 70
    assert list(np.flatnonzero(hitch_marks(frames(ms)))) == [1400]


def test_a_scene_that_is_rough_throughout_has_roughness_and_not_hitches():
    rng = np.random.default_rng(6)
    ms = np.where(rng.random(3000) < 0.3, 24.0, 9.0) * np.exp(0.1 * rng.standard_normal(3000))
    assert moments(hitch_marks(frames(ms))) == 0


def test_a_stop_of_400_ms_in_the_spoiled_logs_is_found(recordings):
    """truth.csv of the spoiled runs: "game stopped for 400 ms, then continued"."""
    stopped = [r for r in recordings("spoiled") if r.row["truth"] == "stopped_once"]
    assert len(stopped) == 3
    for recording in stopped:
        at = int(np.searchsorted(recording.frames.ends_s, float(recording.row["from_s"])))
        assert hitch_marks(recording.frames)[at - 1 : at + 3].any(), recording.path


def test_the_neighbourhood_is_half_a_second_and_odd():
    assert neighbourhood(6000, 100) == 31
    assert neighbourhood(20000, 10) == 301
    assert neighbourhood(100, 10) == 15
    assert moments(np.zeros(0, dtype=bool)) == 0
    assert not hitch_marks(frames([10.0] * 7 + [500.0])).any()
