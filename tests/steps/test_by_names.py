"""Logs whose paths hold the study's own names need no pattern; what is open stays open."""

from __future__ import annotations

from pathlib import PurePosixPath

import pytest

from evenhand.steps.by_names import keys_by_names
from evenhand.study.model import Scene, Setup, Study, Title

STUDY = Study(
    "q",
    baseline="lean",
    setups=(Setup("lean", "Lean"), Setup("lean-plus", "Lean plus"), Setup("A", "A")),
    titles=(
        Title("Night Ferry", "Night Ferry", (Scene("Night Ferry", "Night Ferry"),)),
        Title("ironvale", "Ironvale", (Scene("mine", "Mine"), Scene("tower 2", "Tower 2"))),
    ),
)


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("ironvale/mine/lean-v2-r1.csv", "ironvale/mine lean v2 r1"),
        ("ironvale_mine_lean-plus_visit2_run10.csv", "ironvale/mine lean-plus v2 r10"),
        ("A/visit 3/Ironvale - Mine/run-2.txt", "ironvale/mine A v3 r2"),
        ("Night Ferry/LEAN/2/1.csv", "Night Ferry lean v2 r1"),
        ("night ferry a 02 01.csv", "Night Ferry A v2 r1"),
        ("v1/ironvale tower 2 lean 3.csv", "ironvale/tower 2 lean v1 r3"),
    ],
)
def test_told(path: str, key: str) -> None:
    found = keys_by_names([PurePosixPath(path)], STUDY, {})
    assert found is not None
    assert [str(k) for k in found[0].values()] == [key]


@pytest.mark.parametrize(
    "path",
    [
        "ironvale/lean-v1-r1.csv",  # which of two scenes
        "mine/lean-v1-r1.csv",  # a title that is not named
        "ironvale/mine/lean/lean-plus/v1-r1.csv",  # two setups
        "ironvale/mine/leanest-v1-r1.csv",  # a setup that the study does not have
        "ironvale/mine/lean-v1.csv",  # no run
        "ironvale/mine/lean-2026-11-24-1.csv",  # a date
        "ironvale/mine/lean-v1-v2-r1.csv",  # two visits
        "ironvale/mine/lean-v0-r1.csv",  # numbers count from 1
    ],
)
def test_open(path: str) -> None:
    assert keys_by_names([PurePosixPath(path)], STUDY, {}) is None


def test_what_is_stated_need_not_be_in_the_path() -> None:
    stated = {"title": "ironvale", "scene": "mine", "visit": 2}
    found = keys_by_names([PurePosixPath("lean 1.csv"), PurePosixPath("A 1.csv")], STUDY, stated)
    assert found is not None
    assert [str(k) for k in found[0].values()] == ["ironvale/mine lean v2 r1", "ironvale/mine A v2 r1"]


def test_two_paths_for_one_run_are_left_open() -> None:
    paths = [PurePosixPath(p) for p in ("ironvale/mine/lean-v1-r1.csv", "copy/ironvale/mine/lean-v1-r1.csv")]
    assert keys_by_names(paths, STUDY, {}) is None
    assert keys_by_names([], STUDY, {}) is None


def test_files_that_name_no_setup_are_left_out_with_the_reason() -> None:
    paths = [
        PurePosixPath(p) for p in ("ironvale/mine/lean-v1-r1.csv", "ironvale/mine/order.csv", "ironvale/mine/leen-v1-r2.csv")
    ]
    found = keys_by_names(paths, STUDY, {})
    assert found is not None
    keys, left_out = found
    assert list(keys) == paths[:1]
    assert left_out == dict.fromkeys(paths[1:], "its path names no setup of the study")
