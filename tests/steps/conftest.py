"""A study of two titles, and logs for it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.steps.take import take_logs
from evenhand.study.model import IntervalMeaning, Pace, Protocol, Scene, Setup, Study, Title
from evenhand.study.write import study_text

STUDY = Study(
    "What does the lean setup bring?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=(
        Title("night-ferry", "Night Ferry", (Scene("deck", "Deck", pace=Pace.CLOCK),)),
        Title(
            "ironvale",
            "Ironvale",
            (Scene("mine", "Mine", pace=Pace.FRAMES), Scene("tower", "Tower", pace=Pace.FRAMES)),
        ),
    ),
    interval=IntervalMeaning.PRESENT,
    protocol=Protocol(warmup_runs=0, set_aside=("capped",)),
)


def write_log(path: Path, seed: int, *, frames: int = 900, mean_ms: float = 7.0) -> Path:
    """A log with elapsed seconds and the interval of each frame in milliseconds."""
    rng = np.random.default_rng(seed)
    pace = 1 + 0.3 * np.sin(np.linspace(0, 6, frames))
    ms = mean_ms * pace * rng.gamma(80, 1 / 80, frames)
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = (f"{t:.6f},{x:.4f}\n" for t, x in zip(np.cumsum(ms) / 1e3, ms, strict=True))
    path.write_text("elapsed_s,gap_ms\n" + "".join(lines), encoding="utf-8", newline="\n")
    return path


@pytest.fixture
def study() -> Study:
    return STUDY


@pytest.fixture
def make_log() -> Callable[..., Path]:
    return write_log


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A closed, empty book."""
    Book.create(tmp_path / "study", study_text(STUDY)).close()
    return tmp_path / "study"


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """Two setups, two visits, two runs of Ironvale's mine: eight logs."""
    for number, setup in enumerate(("plain", "lean")):
        for visit in (1, 2):
            for run in (1, 2):
                path = tmp_path / "logs" / "ironvale" / "mine" / f"{setup}-v{visit}-r{run}.csv"
                write_log(path, 100 * number + 10 * visit + run)
    return tmp_path / "logs"


PATTERN = "{title}/{scene}/{setup}-v{visit}-r{run}"


@pytest.fixture
def pattern() -> str:
    return PATTERN


@pytest.fixture(scope="session")
def _judged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("judged")
    for scene, offset in (("night-ferry/deck", 500), ("ironvale/mine", 0)):
        for number, (setup, mean_ms) in enumerate((("plain", 7.0), ("lean", 6.3))):
            for visit in (1, 2, 3):
                for run in (1, 2):
                    mean = mean_ms * (1 + 0.004 * visit)
                    frames = 900 if scene == "ironvale/mine" else round(6300 / mean)
                    path = place / "logs" / scene / f"{setup}-v{visit}-r{run}.csv"
                    write_log(path, offset + 100 * number + 10 * visit + run, mean_ms=mean, frames=frames)
    cap(place / "logs" / "ironvale" / "mine" / "lean-v3-r2.csv", 1000 / 150)
    Book.create(place / "my study", study_text(STUDY)).close()
    take_logs(place / "my study", [place / "logs"], pattern=PATTERN)
    return place / "my study"


@pytest.fixture
def judged(_judged: Path, tmp_path: Path) -> Path:
    """A study of two titles, three visits of two runs; lean is a tenth quicker, Night Ferry ends by the clock and Ironvale by
    the frame; lean v3 r2 of Ironvale's mine is capped at 150.
    """
    return shutil.copytree(_judged, tmp_path / "my study")


def cap(path: Path, shortest_ms: float) -> None:
    """No frame of the log is shorter than that."""
    ms = np.array([float(line.split(",")[1]) for line in path.read_text(encoding="utf-8").splitlines()[1:]])
    lines = (
        f"{t:.6f},{x:.4f}\n"
        for t, x in zip(np.cumsum(np.maximum(ms, shortest_ms)) / 1e3, np.maximum(ms, shortest_ms), strict=True)
    )
    path.write_text("elapsed_s,gap_ms\n" + "".join(lines), encoding="utf-8", newline="\n")
