"""Where in a scene setups differ: known differences are found where they are, and nowhere else."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenhand.judging.along import ScenePaces, along_scene, band, passages
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Verdict

BINS = 30
EDGES = tuple(np.linspace(0.0, 60.0, BINS + 1).tolist())
MARGIN = math.log(1.03)


def paces(effect, visits=3, noise=0.004, shift=0.0, seed=1):
    """effect : (C, B) true log rates."""
    rng = np.random.default_rng(seed)
    setups = len(effect)
    logs = 4.0 + np.array(effect)[:, None, :] + noise * rng.standard_normal((setups, visits, BINS))
    logs = logs + shift * rng.standard_normal((setups, visits, 1))
    return ScenePaces("night-ferry", "deck", tuple("ABCD"[:setups]), logs, "seconds", EDGES)


def told(found, **more):
    return along_scene(found, margin=MARGIN, confidence=0.95, rounds=False, **more)


def test_a_dip_is_found_where_it_is():
    dip = np.zeros(BINS)
    dip[10:15] = -0.10
    (one,) = told(paces([np.zeros(BINS), dip]))
    (place,) = one.passages
    assert (place.begin, place.end) == (20.0, 30.0)
    assert place.verdict is Verdict.BEHIND_BEYOND
    assert place.low < -0.10 < place.high and place.estimate == pytest.approx(-0.10, abs=0.01)
    assert (one.setup, one.against, one.unit) == ("B", "A", "seconds")


def test_every_setup_is_compared_with_the_first():
    found = told(paces([np.zeros(BINS), np.full(BINS, 0.04), np.zeros(BINS)]))
    assert [a.setup for a in found] == ["B", "C"]
    assert (
        {p.verdict for p in found[0].passages} <= {Verdict.AHEAD, Verdict.AHEAD_BEYOND}
        and found[0].passages
        and found[1].passages == ()
    )


def test_visits_that_shift_as_a_whole_widen_the_whole_band():
    dip = np.where(np.arange(BINS) < 15, 0.0, -0.05)
    quiet, shifted = (told(paces([np.zeros(BINS), dip], shift=s))[0] for s in (0.0, 0.10))
    assert quiet.passages and not shifted.passages
    assert np.mean(shifted.high) - np.mean(shifted.low) > 5 * (np.mean(quiet.high) - np.mean(quiet.low))


def test_a_noisy_place_has_a_wide_band_of_its_own():
    rng = np.random.default_rng(4)
    found = paces([np.zeros(BINS), np.zeros(BINS)], visits=4)
    found.logs[:, :, 7] += 0.2 * rng.standard_normal((2, 4))
    (one,) = told(found)
    width = np.array(one.high) - np.array(one.low)
    assert width[7] > 4 * np.median(width) and one.passages == ()


def test_one_visit_a_setup_tells_nothing():
    assert told(paces([np.zeros(BINS), np.zeros(BINS)], visits=1)) == ()


def test_a_setup_alone_and_a_setup_without_visits_tell_nothing():
    assert told(paces([np.zeros(BINS)])) == ()
    found = paces([np.zeros(BINS), np.zeros(BINS)])
    found.logs[1] = np.nan
    assert told(found) == ()


def test_a_place_that_a_visit_lacks_has_no_band():
    found = paces([np.zeros(BINS), np.full(BINS, -0.1)])
    found.logs[1, 0, -2:] = np.nan
    (one,) = told(found)
    assert math.isnan(one.estimate[-1]) and math.isinf(one.high[-1])
    assert one.passages[0].end == EDGES[-3]


def test_unlike_numbers_of_visits():
    found = paces([np.zeros(BINS), np.full(BINS, -0.1)])
    found.logs[1, 2] = np.nan
    (one,) = told(found)
    assert [p.verdict for p in one.passages] == [Verdict.BEHIND_BEYOND]


def test_rounds_take_out_what_setups_share_in_them():
    found = paces([np.zeros(BINS), np.full(BINS, 0.03), np.zeros(BINS)], visits=4)
    moved = ScenePaces("t", "s", found.setups, found.logs + np.array([0.0, 0.1, -0.1, 0.05])[None, :, None], "seconds", EDGES)
    without, within = (along_scene(moved, margin=MARGIN, confidence=0.95, rounds=r)[0] for r in (False, True))
    assert not without.passages and [p.verdict for p in within.passages] == [Verdict.AHEAD]


def test_passages_are_neighbouring_bins_of_one_side():
    low, high = np.array([1.0, 2.0, -1.0, -5.0, 1.0]), np.array([3.0, 4.0, 1.0, -4.0, 2.0])
    found = passages((0, 1, 2, 3, 4, 5), (low + high) / 2, low, high, 1.5)
    assert [(p.begin, p.end) for p in found] == [(0, 2), (3, 4), (4, 5)]
    assert [p.verdict for p in found] == [Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND, Verdict.AHEAD]
    assert (found[0].low, found[0].high) == (1.5, 3.5)


def test_many_scenes_at_once_are_those_judged_alone():
    rng = np.random.default_rng(2)
    layout = layout_of(np.ones((BINS, 3, 2), dtype=bool), rounds=False)
    logs = rng.normal(0, 0.01, (3, layout.title.size))
    many = band(layout, logs, 0.95)
    for i in range(3):
        one = band(layout, logs[i : i + 1], 0.95)
        np.testing.assert_allclose(many.half[i], one.half[0], rtol=1e-9)
        np.testing.assert_allclose(many.estimate[i], one.estimate[0])
