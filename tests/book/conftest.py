"""A small book, and runs made for it without a reader of logs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.book.model import NewRun
from evenhand.frames.model import Frames, Layout, Reading, Recipe, Role, Unit
from evenhand.study.model import RunKey

STUDY = 'question = "What does memory speed bring in Night Ferry?"\n'


def made_run(run: int = 1, *, seed: int | None = None, setup: str = "lean", longest_ms: float = 20.0) -> NewRun:
    """A run of 300 frames; its log is its frames, one a line."""
    rng = np.random.default_rng(run if seed is None else seed)
    ns = rng.integers(6_000_000, 9_000_000, 300)
    ns[100] = int(longest_ms * 1e6)
    log = ("interval_ms\n" + "\n".join(f"{x / 1e6:.6f}" for x in ns)).encode()
    layout = Layout("utf-8", "", ".", (), ("interval_ms",), 1, 2, 301)
    reading = Reading(Frames(ns), layout, "interval_ms", Role.DURATION, Unit.MS, "300 frames in one column of milliseconds")
    recipe = Recipe(layout.shape, "interval_ms", Role.DURATION, Unit.MS, ".", "", ("program", "game"), "present")
    return NewRun(RunKey("night-ferry", "deck", setup, 1, run), log, f"logs/{setup}-{run}.csv", reading, recipe)


@pytest.fixture
def new_run() -> Callable[..., NewRun]:
    return made_run


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.create(tmp_path / "study", STUDY) as made:
        yield made
