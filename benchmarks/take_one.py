"""Time to take in one ordinary log (400 kB, 12,000 frames), every durable write included, in a process that is running.

Bound: under 50 ms. Beside it, in the same run: polars reading the same columns of the same file, and a bare write of the
same bytes that waits for the disk.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

from evenhand.book.book import Book
from evenhand.steps.take import take
from evenhand.study.model import RunKey, Scene, Setup, Study, Title
from evenhand.study.write import study_text

RUNS = 30
FRAMES = 12_000
STUDY = Study(
    "How long does one log take?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=(Title("quiet-orbit", "Quiet Orbit", (Scene("quiet-orbit", "Quiet Orbit"),)),),
)


def write_log(path: Path, seed: int) -> Path:
    """Frame number, elapsed seconds, interval in milliseconds, and a rate: about 400 kB."""
    rng = np.random.default_rng(seed)
    ms = 8 * rng.gamma(40, 1 / 40, FRAMES)
    rows = zip(range(FRAMES), np.cumsum(ms) / 1e3, ms, 1e3 / ms, strict=True)
    lines = "".join(f"{n},{t:.6f},{x:.4f},{rate:.3f}\n" for n, t, x, rate in rows)
    path.write_text("frame,elapsed_s,interval_ms,rate\n" + lines, encoding="utf-8", newline="\n")
    return path


def median_ms(work: Callable[[Path], object], paths: list[Path]) -> float:
    times = []
    for path in paths:
        begin = time.perf_counter()
        work(path)
        times.append((time.perf_counter() - begin) * 1e3)
    return statistics.median(times)


def write_bytes(path: Path) -> None:
    with path.with_suffix(".copy").open("wb") as file:
        file.write(path.read_bytes())
        file.flush()
        os.fsync(file.fileno())


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        logs = [write_log(folder / f"{n}.csv", n) for n in range(RUNS)]
        keys = {path: RunKey("quiet-orbit", "quiet-orbit", "lean", 1, n) for n, path in enumerate(logs, 1)}
        Book.create(folder / "study", study_text(STUDY)).close()
        with Book.open(folder / "study") as book:
            first = list(keys)[:3]  # the third fixes the scene's stretch, and modules are warm
            take(book, STUDY, {path: keys[path] for path in first})
            taken = median_ms(lambda path: take(book, STUDY, {path: keys[path]}), logs[3:])
            assert len(book.runs()) == RUNS
        polars = median_ms(lambda path: pl.read_csv(path, columns=["elapsed_s", "interval_ms"]), logs)
        disk = median_ms(write_bytes, logs)
        size = logs[0].stat().st_size / 1e3
    print(f"one log of {size:.0f} kB taken in, all durable writes included: {taken:.1f} ms (bound: 50 ms)")
    print(f"polars reads the same columns in {polars:.1f} ms: ratio {taken / polars:.1f}")
    print(f"writing the same bytes and waiting for the disk: {disk:.1f} ms")


if __name__ == "__main__":
    main()
