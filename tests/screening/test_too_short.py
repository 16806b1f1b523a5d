import pytest

from evenhand.screening.screen import screen


def test_a_run_cut_off_is_found(bench, fixed):
    ns = fixed[5].whole.ns[:2600]
    (flag,) = bench.doubts(screen(bench.changed(fixed, 5, ns, missing=0.35)))
    assert flag.run == fixed[5].key
    assert flag.reasons[0] == "too-short"
    assert flag.evidence["missing"] == pytest.approx(0.35)
    assert "2600 of 4000 frames" in flag.sentence


def test_fixed_frames_tell_even_where_the_stretch_does_not(bench, fixed):
    """No length was fixed for the scene, so nothing counts as missing: the other runs' counts say it."""
    (flag,) = bench.doubts(screen(bench.changed(fixed, 5, fixed[5].whole.ns[:2600])))
    assert (flag.run, flag.check) == (fixed[5].key, "too-short")


def test_by_the_clock_the_stretch_says_what_is_missing(bench, clean):
    ns = clean[7].whole.ns[: clean[7].whole.ns.size // 2]
    (flag,) = bench.doubts(screen(bench.changed(clean, 7, ns, missing=0.5)))
    assert flag.reasons == ("too-short", "other-content")


def test_a_hundredth_is_not_short(bench, fixed):
    assert not bench.doubts(screen(bench.changed(fixed, 5, fixed[5].whole.ns[:3960], missing=0.01)))
