"""Which scene a log shows: the table of docs/methods/matching-logs.md, and made logs of scenes by the clock."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from evenhand.frames.model import Frames
from evenhand.frames.stretch import propose
from evenhand.screening.which_scene import CLEAR, Reference, likeness


@pytest.fixture(scope="module")
def by_scene(recordings):
    """Campaign -> scene -> frames of its good runs, in the order of recording."""
    found: dict[str, dict[str, list[Frames]]] = {}
    for campaign in ("campaign", "quiet"):
        for r in sorted(recordings(campaign), key=lambda r: int(r.row["order"])):
            found.setdefault(campaign, {}).setdefault(r.scene, []).append(r.frames)
    return found


@pytest.mark.parametrize(("before", "logs"), [(1, 161), (3, 147)])
def test_no_measured_log_is_taken_for_another_scene(by_scene, before, logs):
    known, unknown = Counter(), Counter()
    for scenes in by_scene.values():
        references = {s: Reference.of(propose(s, "frames", runs[:before]), runs[:before]) for s, runs in scenes.items()}
        for scene, runs in scenes.items():
            others = {s: reference for s, reference in references.items() if s != scene}
            for frames in runs[before:]:
                for hoped in (None, *scenes):
                    known[likeness(frames, hoped, references).clear == scene] += 1
                for hoped in (None, *others):
                    unknown[likeness(frames, hoped, others).clear is None] += 1
    assert known[False] == 0
    assert unknown[False] == 0
    assert sum(len(runs) - before for scenes in by_scene.values() for runs in scenes.values()) == logs


@pytest.mark.parametrize(("before", "reached"), [(1, 0.78), (3, 0.84)])
def test_how_far_the_course_alone_tells(by_scene, before, reached):
    """The figures that the limits were set by."""
    own, other = [], []
    for scenes in by_scene.values():
        references = {s: Reference.of(propose(s, "frames", runs[:before]), runs[:before]) for s, runs in scenes.items()}
        for scene, runs in scenes.items():
            for frames in runs[before:]:
                found = likeness(frames, None, references).matches
                own.append(found[scene])
                other += [match for s, match in found.items() if s != scene and np.isfinite(match)]
    assert np.mean(np.array(own) >= CLEAR) == pytest.approx(reached, abs=0.005)
    assert max(other) < 4.1


def test_wrong_scenes_of_the_campaign_are_like_none(by_scene, recordings):
    """Spoiled runs that were recorded with a scene that is not in the set."""
    references = {s: Reference.of(propose(s, "frames", runs[:6]), runs[:6]) for s, runs in by_scene["campaign"].items()}
    wrong = [r for r in recordings("spoiled") if r.row["truth"] == "wrong_scene"]
    assert len(wrong) == 3
    found = [likeness(r.frames, r.scene, references) for r in wrong]
    assert [one.clear for one in found] == [None] * 3
    assert all(one.unlike for one in found)


def played(content: np.ndarray, rng: np.random.Generator, pace: float, late: float = 0.0) -> Frames:
    """Forty seconds of a scene by the clock, the recorder started `late` seconds into it."""
    ms, now = [], late
    while now < late + 40.0:
        ms.append(pace * float(np.exp(np.interp(now, np.arange(content.size) * 0.5, content))) * float(rng.gamma(80, 1 / 80)))
        now += ms[-1] / 1e3
    return Frames(np.rint(np.array(ms) * 1e6).astype(np.int64))


def test_scenes_by_the_clock_are_told_though_the_recorder_was_started_by_hand():
    rng = np.random.default_rng(3)
    contents = {name: rng.normal(0, 0.2, 100) for name in ("harbour", "ferry", "orbit")}
    runs = {name: [played(c, rng, 7 + k, late=k % 2) for k in range(3)] for name, c in contents.items()}
    references = {name: Reference.of(propose(name, "clock", own), own) for name, own in runs.items()}
    for name, content in contents.items():
        for late in (0.0, 0.7, 2.0):
            frames = played(content, rng, 9.5, late)
            assert all(likeness(frames, hoped, references).clear == name for hoped in (None, *contents))
    other = likeness(played(rng.normal(0, 0.2, 100), rng, 8.0), "ferry", references)
    assert other.clear is None
    assert other.unlike


def test_half_a_log_is_still_told_and_less_is_not():
    rng = np.random.default_rng(4)
    contents = {name: rng.normal(0, 0.2, 100) for name in ("harbour", "ferry")}
    references = {
        name: Reference.of(propose(name, "clock", own), own)
        for name, content in contents.items()
        if (own := [played(content, rng, 7 + k) for k in range(3)])
    }
    whole = played(contents["harbour"], rng, 8.0)
    half = whole.cut(0, int(np.searchsorted(whole.ends_s, 24.0)))
    piece = whole.cut(0, int(np.searchsorted(whole.ends_s, 8.0)))
    assert likeness(half, "ferry", references).clear == "harbour"
    told = likeness(piece, "ferry", references)
    assert told.clear is None
    assert not told.unlike


def test_a_flat_scene_says_nothing():
    rng = np.random.default_rng(5)
    own = [played(np.zeros(100), rng, 7 + k) for k in range(3)]
    reference = Reference.of(propose("flat", "clock", own), own)
    told = likeness(played(np.zeros(100), rng, 8.0), "flat", {"flat": reference})
    assert told.clear is None
    assert not told.unlike
