"""The stretch that counts: proposed once, applied log by log, lined up where the content says so."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.model import Frames
from evenhand.frames.profile import alignment, correlation, lag, pace_profile, rates
from evenhand.frames.stretch import apply, propose


def frames(ms: np.ndarray) -> Frames:
    return Frames(np.maximum(np.rint(np.asarray(ms) * 1e6), 1).astype(np.int64))


def by_clock(content: np.ndarray, rate: float, seconds: float, begin: float, seed: int) -> Frames:
    """A scene that runs by the clock: its load at second t is content at t (one value a tenth of a second), played from second
    `begin` on by a PC of that rate, with jitter.
    """
    rng = np.random.default_rng(seed)
    at, ms = begin, []
    while at < begin + seconds:
        load = float(np.interp(at, np.arange(content.size) / 10, content))
        ms.append(1000 / rate * load * np.exp(0.05 * rng.standard_normal()))
        at += ms[-1] / 1000
    return frames(np.array(ms))


@pytest.fixture
def content() -> np.ndarray:
    """Forty seconds of load that changes as views do."""
    rng = np.random.default_rng(12)
    return np.repeat(np.exp(0.3 * rng.standard_normal(80)), 5)


@pytest.mark.parametrize(("campaign", "lengths"), [
    ("campaign", {"hangar": 1398, "keep": 2198, "works": 1098, "quarry": 598}),
    ("quiet", {"orchard": 1529, "mill": 1413, "yard": 2761}),
])  # fmt: skip
def test_recorded_scenes_play_a_fixed_set_of_frames(recordings, campaign, lengths):
    """The length is gametics − 2 intervals (the campaigns' README.md): mill's and yard's gametics are in runs.csv."""
    for scene, length in lengths.items():
        runs = [r for r in recordings(campaign) if r.scene == scene]
        assert length == int(runs[0].row["gametics"]) - 2
        stretch = propose(f"{scene}/{scene}", None, [r.frames for r in runs[:8]])
        assert (stretch.pace, stretch.length, stretch.skip) == ("frames", length, 0)
        for run in runs:
            cut = apply(run.frames, stretch)
            assert len(cut.counted) == length
            assert (cut.missing, cut.lag_s) == (0.0, 0.0)
            assert cut.first == int(run.row["rows_before_demo"])


def test_spoiled_logs_lack_what_they_lack(recordings):
    good = [r for r in recordings("campaign") if r.scene == "keep"]
    stretch = propose("keep/keep", None, [r.frames for r in good[:6]])
    short = {r.path.split("/")[-1]: apply(r.frames, stretch) for r in recordings("spoiled") if r.scene == "keep"}
    assert short["D-v4-r1.csv"].missing == pytest.approx(1 - 1327 / 2198)
    assert len(short["D-v4-r1.csv"].counted) == 1327
    assert short["B-v4-r1.csv"].missing == 0


def test_one_bad_run_among_the_first_does_no_harm(recordings):
    good = [r.frames for r in recordings("campaign") if r.scene == "hangar"][:4]
    plain = propose("h/h", None, good)
    cut_short = good[3].cut(0, 700)
    stretch = propose("h/h", None, [*good[:3], cut_short])
    assert (stretch.pace, stretch.length) == (plain.pace, plain.length)
    assert correlation(np.array(stretch.reference), np.array(plain.reference)) > 0.95


def test_a_scene_by_the_clock_is_told_from_its_counts(content):
    runs = [by_clock(content, rate, 30, 0, seed) for seed, rate in enumerate((80, 95, 120, 150))]
    stretch = propose("a/b", None, runs)
    assert stretch.pace == "clock"
    assert 29.5 <= stretch.length <= 30.1
    short = propose("a/b", None, [*runs[:3], by_clock(content, 120, 12, 0, 9)])
    assert 29.5 <= short.length <= 30.1
    # Two runs: neither can be called the bad one.
    assert propose("a/b", "clock", [runs[0], by_clock(content, 120, 12, 0, 9)]).length <= 12.1


def test_capped_runs_by_the_clock_are_frames_or_clock_with_the_same_result():
    rng = np.random.default_rng(3)
    runs = [frames(1000 / 60 + 0.05 * rng.standard_normal(1800)) for _ in range(4)]
    stretch = propose("a/b", None, runs)
    assert all(apply(run, stretch).missing < 0.002 for run in runs)
    assert all(len(apply(run, stretch).counted) >= 1790 for run in runs)


@pytest.mark.parametrize("late", [-2.0, -0.7, 0.0, 0.6, 1.3, 2.2])
def test_a_recording_begun_early_or_late_is_lined_up(content, late):
    """`late` seconds after the others the person pressed the key (negative: earlier)."""
    shown = np.concatenate((np.exp(0.3 * np.random.default_rng(2).standard_normal(40)), content))  # four seconds before
    runs = [by_clock(shown, rate, 30, 4.0, seed) for seed, rate in enumerate((90, 100, 120))]
    stretch = propose("a/b", "clock", runs)
    cut = apply(by_clock(shown, 75, 31, 4.0 + late, 77), stretch)
    # A shift that changes hardly anything is not made: 0.1 s against views of half a second.
    assert cut.lag_s == pytest.approx(-late, abs=0.15)
    assert cut.missing == pytest.approx(max(late, -late - 1, 0.0) / stretch.length if late > 0 else 0.0, abs=0.04)


def test_other_content_is_not_shifted(content):
    stretch = propose("a/b", "clock", [by_clock(content, rate, 30, 0, seed) for seed, rate in enumerate((90, 100, 120))])
    shifted = 0
    for seed in range(20):
        other = np.repeat(np.exp(0.3 * np.random.default_rng(100 + seed).standard_normal(80)), 5)
        shifted += apply(by_clock(other, 90, 30, 0, seed), stretch).lag_s != 0
    assert shifted == 0


def test_frames_of_a_fixed_set_are_found_behind_frames_that_should_have_gone(recordings):
    """Twenty frames of a menu that the start's rule does not know: the log has too many frames, the content says where."""
    runs = [r for r in recordings("campaign") if r.scene == "hangar"]
    stretch = propose("h/h", None, [r.frames for r in runs[:8]])
    menu = np.full(20, 3_000_000, dtype=np.int64) + np.arange(20) * 40_000
    found = 0
    for run in runs[8:]:
        plain = apply(run.frames, stretch)
        longer = Frames(np.concatenate((run.frames.ns[: plain.first], menu, plain.counted.ns)))
        found += abs(apply(longer, stretch).first - plain.first - 20) <= 8
    assert found >= 0.8 * len(runs[8:])


def test_a_runs_cut_depends_on_its_log_and_the_stretch_alone(recordings):
    runs = [r.frames for r in recordings("quiet") if r.scene == "mill"]
    stretch = propose("m/m", None, runs[:3])
    before = apply(runs[3], stretch)
    propose("m/m", None, runs)
    after = apply(Frames(runs[3].ns.copy()), stretch)
    assert np.array_equal(before.counted.ns, after.counted.ns)
    assert (before.first, before.last, before.lag_s) == (after.first, after.last, after.lag_s)


def test_a_log_that_ends_before_the_stretch_begins_gives_its_last_frame():
    stretch = propose("a/b", "clock", [frames(np.full(600, 10.0))] * 3)
    late = apply(frames(np.full(50, 10.0)), type(stretch)("a/b", "clock", stretch.start_rule, 2.0, 4.0))
    assert (len(late.counted), late.missing) == (1, 1.0)


def test_without_runs_there_is_no_stretch():
    with pytest.raises(ValueError, match="at least one run"):
        propose("a/b", None, [])


def test_profiles_count_shares_of_frames_and_leave_missing_places_open():
    run = frames(np.array([10.0] * 100 + [20.0] * 50))  # a second at 100, a second at 50
    assert rates(run, "clock", 4, 2.0) == pytest.approx([100, 100, 50, 50])
    assert rates(run, "frames", 3, 150) == pytest.approx([100, 100, 50])
    assert pace_profile(run, "frames", 3, 150) == pytest.approx([1, 1, 0.5])
    assert rates(run, "clock", 3, 3.0)[:2] == pytest.approx([100, 50])
    assert np.isnan(rates(run, "clock", 3, 3.0)[2])
    # a bin that cuts frames takes its share of them: 12.5 ms of 10 ms frames are 1.25 frames
    assert rates(run, "clock", 8, 0.1) == pytest.approx(np.full(8, 100.0))


def test_a_lag_is_found_and_a_flat_profile_has_none():
    rng = np.random.default_rng(8)
    reference = np.exp(0.2 * rng.standard_normal(80))
    for shift in (-7, 0, 5):
        moved = np.roll(reference, shift) * np.exp(0.02 * rng.standard_normal(80))
        assert lag(moved, reference) == shift
    assert lag(np.ones(80), reference) == 0
    assert np.isnan(alignment(np.ones(80), reference, 5).correlation)
