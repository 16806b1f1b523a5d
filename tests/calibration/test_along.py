"""The band along a scene holds for the whole scene: counted on simulated scenes whose truth is known, seeds fixed."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.rehearsal.along import SceneTruth, count_scene

KINDS = {
    "2 setups, 2 visits": SceneTruth(2, 2, own=0.02),
    "2 setups, 3 visits, shift": SceneTruth(2, 3, own=0.02, shift=0.05),
    "4 setups, 2 visits": SceneTruth(4, 2, own=0.02, shift=0.01),
    "4 setups, 3 visits, rounds": SceneTruth(4, 3, own=0.02, shift=0.01, rounds=True),
    "unlike places": SceneTruth(4, 3, own=0.02, unlike=0.3),
    "neighbours alike": SceneTruth(4, 2, own=0.02, unlike=0.2, memory=0.6),
    "heavy tails": SceneTruth(4, 2, own=0.02, tails=3.0, unlike=0.2),
    "spikes": SceneTruth(2, 3, own=0.02, spikes=0.01),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_band_covers_the_whole_scene(kind: str) -> None:
    share = count_scene(KINDS[kind], 600, seed=11)
    assert share.value >= 0.94 - 2 * share.error


def test_bin_by_bin_intervals_do_not_cover_the_whole_scene() -> None:
    """The reason for a simultaneous band: the same intervals, each bin for itself."""
    share = count_scene(SceneTruth(4, 3, own=0.02), 200, seed=3, pointwise=True)
    assert share.value < 0.5
    assert np.isfinite(share.error)
