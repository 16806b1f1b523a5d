"""The shipped spoiled runs among the campaign's good ones, and the quiet campaign: the figures of docs/methods/screening.md."""

import pytest

from evenhand.screening.screen import screen
from evenhand.study.model import RunKey

RIGHT = {
    "background_load": "busy-machine",
    "capped": "capped",
    "cut_off": "too-short",
    "wrong_setup": "wrong-setup",
    "stopped_once": "lone-stall",
    "wrong_scene": "other-content",
}


@pytest.fixture(scope="module")
def found(shipped):
    return screen(shipped("campaign", "spoiled"))


@pytest.fixture(scope="module")
def truth(recordings):
    return {
        RunKey(r.scene, r.scene, r.row["claimed_setup"], int(r.row["visit"]), int(r.row["run"])): r.row["truth"]
        for r in recordings("spoiled")
    }


def test_at_least_nine_in_ten_spoiled_runs_are_flagged_with_the_right_reason(found, truth):
    spoiled = {key: RIGHT[kind] for key, kind in truth.items() if kind != "clean"}
    assert len(spoiled) == 18
    first = {f.run: f.check for f in found.flags if f.run in found.doubtful() and f.weight == "doubtful"}
    assert sum(key in first for key in spoiled) >= 17
    assert sum(first.get(key) == reason for key, reason in spoiled.items()) >= 17


def test_at_most_two_good_runs_in_a_hundred_are_flagged(found, truth, shipped):
    spoiled = {key for key, kind in truth.items() if kind != "clean"}
    wrongly = [k for k in found.doubtful() if k not in spoiled]
    wrongly += screen(shipped("quiet")).doubtful()
    assert len(wrongly) <= 0.02 * (99 + 72)


def test_each_spoiled_run_has_one_doubtful_flag(found):
    assert all(sum(f.weight == "doubtful" for f in found.of(key)) == 1 for key in found.doubtful())


def test_no_sentence_names_a_setup(found):
    words = {word.strip(".,:;()") for f in found.flags for word in f.sentence.split()}
    assert not words & {"B", "C", "D"}


def test_where_setups_are_alike_it_is_said_that_a_proof_is_needed(found):
    (line,) = [u for u in found.untold if "keep" in u]
    assert "any two of “A”, “B”, “C” and “D” apart" in line
