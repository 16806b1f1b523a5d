"""The invented study: the same bytes from the same seed, its truth found again by simple means, its spoiled runs spoiled."""

from __future__ import annotations

import hashlib
from collections import Counter
from pathlib import Path
from statistics import fmean, stdev

import numpy as np
import pytest

from evenhand.examples.invented import (
    RUNS,
    VISITS,
    invented_frames,
    invented_study,
    invented_truth,
    keys,
    write_logs,
)
from evenhand.frames.model import Floats
from evenhand.study.model import RunKey

STUDY = invented_study()
TRUTH = invented_truth()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("invented")
    write_logs(made)
    return made


def scene_ms(key: RunKey, seed: int = 20260) -> Floats:
    """Frames of the scene itself: a loading interval among the first ten goes, with what came before it."""
    ms = invented_frames(key, seed).ms
    loading = np.flatnonzero(ms[:10] > 300)
    return ms[loading[0] + 1 :] if loading.size else ms


def sound(key: RunKey) -> bool:
    return key not in TRUTH.spoiled and not (key.title in TRUTH.warm_up and key.run == 1)


def log_rate(ms: Floats) -> float:
    return float(np.log(1000 * ms.size / ms.sum()))


def log_low(ms: Floats) -> float:
    return float(np.log(1000 / np.quantile(ms, 0.99)))


# SHA-256 of three logs, one of each format, computed by this project; a change of seed, generator or format shows here.
HASHES = {
    "copper-meridian/fast-65-v1-r1.csv": "edd5275d6fb1910878cd0d393d20dff0177efc6b62fd3a38fb7a1b7880787392",
    "gannet-hollow/slow-45-v2-r2.tsv": "2fdb2e128c3f209c52b2f754121932d6cfe16e8353e05ad3ae47b8d9dab46047",
    "night-ferry/slow-45-v3-r1.log": "9d27d552df499703429f3a58a06f4936b57bd9a9e8ebb1c631da517d37bf40f0",
}


@pytest.mark.parametrize("name", HASHES)
def test_the_seed_gives_the_same_bytes(folder: Path, name: str) -> None:
    assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == HASHES[name]


def test_another_seed_gives_other_frames() -> None:
    key = next(keys())
    assert not np.array_equal(invented_frames(key).ns[:100], invented_frames(key, seed=1).ns[:100])


def test_every_run_of_the_study_has_one_log(folder: Path) -> None:
    logs = [path for path in folder.rglob("*") if path.is_file()]
    assert len(logs) == len(STUDY.titles) * len(STUDY.setups) * VISITS * RUNS == 288
    assert Counter(path.suffix for path in logs) == {".csv": 96, ".tsv": 96, ".log": 96}
    assert len({path.with_suffix("") for path in logs}) == 288


def test_file_times_follow_the_order_of_recording(folder: Path) -> None:
    visits = {path.stat().st_mtime: path.name.rsplit("-r", 1)[0] for path in folder.rglob("*-r1.*")}
    order = list(dict.fromkeys(visits[moment] for moment in sorted(visits)))
    assert order[:4] == ["fast-65-v1", "slow-45-v1", "fast-45-v1", "slow-65-v1"]
    assert len(order) == 12


def test_truth_is_zero_for_the_baseline_and_covers_the_study() -> None:
    for table in (TRUTH.average, TRUTH.low):
        assert set(table) == {t.name for t in STUDY.titles}
        for effects in table.values():
            assert list(effects) == [s.name for s in STUDY.setups]
            assert effects[STUDY.baseline] == 0


def visit_means(title: str, setup: str, seed: int) -> dict[int, float]:
    found = {}
    for visit in range(1, VISITS + 1):
        runs = [RunKey(title, title, setup, visit, run) for run in range(1, RUNS + 1)]
        found[visit] = fmean(log_rate(scene_ms(key, seed)) for key in runs if sound(key))
    return found


def test_simple_means_find_the_true_averages() -> None:
    """Mean ratio of visit means, within 4 of the standard errors that the stated noise implies, in each of 36 contrasts."""
    se = np.sqrt(2 / VISITS * (TRUTH.visit_sd**2 + TRUTH.title_sd**2 + TRUTH.run_sd**2))
    for title in STUDY.titles:
        base = fmean(visit_means(title.name, STUDY.baseline, 20260).values())
        for setup, truth in TRUTH.average[title.name].items():
            found = fmean(visit_means(title.name, setup, 20260).values()) - base
            assert found == pytest.approx(truth, abs=4 * se), (title.name, setup)


def test_noise_is_as_stated() -> None:
    """Variance between visit means over titles, from 20 seeds of 3 visits (40 degrees of freedom)."""
    titles = [t.name for t in STUDY.titles if t.scenes[0].cap is None]
    squares = []
    for seed in range(20):
        per_visit = [
            fmean(log_rate(scene_ms(RunKey(t, t, "fast-65", v, 2), seed)) for t in titles[:6]) for v in range(1, VISITS + 1)
        ]
        squares.append(stdev(per_visit) ** 2)
    expected = TRUTH.visit_sd**2 + (TRUTH.title_sd**2 + TRUTH.run_sd**2) / 6
    assert fmean(squares) == pytest.approx(expected, rel=0.6)


@pytest.mark.parametrize(
    ("title", "setup"), [("tin-cathedral", "fast-45"), ("night-ferry", "slow-45"), ("quiet-orbit", "slow-65")]
)
def test_the_slow_tail_moves_as_stated(title: str, setup: str) -> None:
    def low(name: str) -> float:
        cells = [RunKey(title, title, name, v, r) for v in range(1, VISITS + 1) for r in range(1, RUNS + 1)]
        return fmean(log_low(scene_ms(key)) for key in cells if sound(key))

    assert low(setup) - low(STUDY.baseline) == pytest.approx(TRUTH.low[title][setup], abs=0.025)


def spoiled(kind: str) -> RunKey:
    return next(key for key, found in TRUTH.spoiled.items() if found == kind)


def neighbour(key: RunKey) -> RunKey:
    """The other run of the same visit."""
    return RunKey(key.title, key.scene, key.setup, key.visit, 3 - key.run)


def test_spoiled_runs_are_in_the_study() -> None:
    assert len(TRUTH.spoiled) == 6
    assert set(TRUTH.spoiled) <= set(keys())


def test_capped_run_piles_up_at_60() -> None:
    ms = scene_ms(spoiled("capped"))
    assert np.mean(np.abs(ms - 1000 / 60) < 0.25) > 0.9


def test_short_run_ends_early() -> None:
    key = spoiled("too-short")
    assert scene_ms(key).sum() < 0.7 * scene_ms(neighbour(key)).sum()


def test_loaded_run_has_a_step_that_the_other_lacks() -> None:
    def step(key: RunKey) -> float:
        parts = np.array_split(scene_ms(key), 20)
        return float(np.median(np.concatenate(parts[9:12])) / np.median(np.concatenate(parts[:6] + parts[15:])))

    key = spoiled("busy-machine")
    assert step(key) / step(neighbour(key)) > 1.2


def test_stopped_run_has_one_stall() -> None:
    ms = scene_ms(spoiled("lone-stall"))
    assert np.count_nonzero(ms > 300) == 1


def test_copied_run_is_the_same_file(folder: Path) -> None:
    key = spoiled("same-log")
    copies = [folder / k.title / f"{k.setup}-v{k.visit}-r{k.run}" for k in (key, neighbour(key))]
    data = [next(folder.glob(f"{c.relative_to(folder).as_posix()}.*")).read_bytes() for c in copies]
    assert data[0] == data[1]


def test_wrong_scene_follows_another_course() -> None:
    def course(key: RunKey) -> Floats:
        return np.array([np.median(part) for part in np.array_split(scene_ms(key), 40)])

    key = spoiled("other-content")
    alike = np.corrcoef(course(neighbour(key)), course(RunKey(key.title, key.scene, key.setup, 2, 1)))[0, 1]
    other = np.corrcoef(course(key), course(neighbour(key)))[0, 1]
    assert alike > 0.9
    assert other < 0.6


def test_warm_up_slows_first_runs_only() -> None:
    (title,) = TRUTH.warm_up
    for visit in range(1, VISITS + 1):
        first, second = (scene_ms(RunKey(title, title, STUDY.baseline, visit, run)) for run in (1, 2))
        assert np.count_nonzero(first > 45) >= 15 > np.count_nonzero(second > 45)
