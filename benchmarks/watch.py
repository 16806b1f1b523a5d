"""Time from a finished log (closed, at its name) to the printed line, as a multiple of polars reading the same file.

    python benchmarks/watch.py

A watch runs in a process of its own, as a person runs it, over a study of 12 titles with some runs each; logs of 400 kB
(12,000 frames) appear one after the other, written at once, in pieces, or renamed into place by turns. Bound: a second.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from evenhand.book.book import Book
from evenhand.steps.take import take
from evenhand.study.model import Protocol, RunKey, Scene, Setup, Study, Title
from evenhand.study.write import study_text

TITLES, BEFORE, LOGS, FRAMES = 12, 6, 24, 12_000
NAMES = tuple(f"title-{n}" for n in range(1, TITLES + 1))
STUDY = Study(
    "How long does it take until a log is told?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=tuple(Title(name, name.capitalize(), (Scene(name, name.capitalize(), seconds=90.0),)) for name in NAMES),
    protocol=Protocol(visits=1, runs=max(BEFORE, LOGS)),
)


def log(title: int, rng: np.random.Generator) -> bytes:
    """Frame number, elapsed seconds, interval in milliseconds, and a rate, over the title's own course."""
    course = np.exp(np.random.default_rng(title).normal(0, 0.2, FRAMES // 40)).repeat(40)
    ms = 8 * course * rng.gamma(40, 1 / 40, FRAMES)
    rows = zip(range(FRAMES), np.cumsum(ms) / 1e3, ms, 1e3 / ms, strict=True)
    lines = "".join(f"{n},{t:.6f},{x:.4f},{rate:.3f}\n" for n, t, x, rate in rows)
    return ("frame,elapsed_s,interval_ms,rate\n" + lines).encode()


def write(path: Path, data: bytes, way: int) -> float:
    """The log in one of three ways; returns when it was finished."""
    if way == 0:
        part = path.with_suffix(".part")
        part.write_bytes(data)
        time.sleep(0.5)
        part.rename(path)
    else:
        with path.open("wb") as file:
            for begin in range(0, len(data), len(data) if way == 1 else 40_000):
                file.write(data[begin : begin + (len(data) if way == 1 else 40_000)])
                file.flush()
                time.sleep(0.1)
    return time.perf_counter()


def begun(folder: Path, rng: np.random.Generator) -> Path:
    """A study with runs of every title."""
    Book.create(folder, study_text(STUDY)).close()
    with Book.open(folder) as book:
        keys = {}
        for number, name in enumerate(NAMES):
            for run in range(1, BEFORE + 1):
                path = folder / "out" / f"{name}-{run}.csv"
                path.write_bytes(log(number, rng))
                keys[path] = RunKey(name, name, "plain", 1, run)
        take(book, STUDY, keys)
    return folder


def main() -> None:
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as place:
        study, inbox = begun(Path(place) / "study", rng), Path(place) / "recordings"
        inbox.mkdir()
        command = [sys.executable, "-m", "evenhand", "watch", str(study), str(inbox), "--setup", "lean", "--visit", "1", "--json"]
        watch = subprocess.Popen([*command, "--since", "all"], stdout=subprocess.PIPE, text=True, encoding="utf-8")
        assert watch.stdout is not None
        took: dict[str, list[float]] = {"renamed": [], "at once": [], "in pieces": []}
        reading = []
        for number in range(LOGS + 1):
            path, data = inbox / f"recording {number:02}.csv", log(number % TITLES, rng)
            finished = write(path, data, number % 3)
            told = json.loads(watch.stdout.readline())
            spent = time.perf_counter() - finished
            assert told["became"] == "kept" and told["run"]["title"] == NAMES[number % TITLES], told["line"]
            if number:  # the first has the program start in it
                list(took.values())[number % 3].append(spent)
            begin = time.perf_counter()
            pl.read_csv(path)
            reading.append(time.perf_counter() - begin)
        watch.kill()
        watch.wait()
        watch.stdout.close()
    beside = statistics.median(reading)
    print(f"polars reads the file in {beside * 1e3:.1f} ms")
    for way, times in took.items():
        middle, worst = statistics.median(times), max(times)
        print(
            f"{way:10} median {middle:.2f} s, worst {worst:.2f} s; {middle / beside:.0f} and {worst / beside:.0f} times as long"
        )
    everything = [spent for times in took.values() for spent in times]
    print(f"all        median {statistics.median(everything):.2f} s, worst {max(everything):.2f} s of {len(everything)} logs")
    if max(everything) > 1.0:
        raise SystemExit("over a second")


if __name__ == "__main__":
    main()
