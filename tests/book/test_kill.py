"""`take` is killed at random moments and at each kind of durable step. Every run that was reported as taken in is there, nothing
is doubled, nothing half-written is visible, and taking in again finishes the work.

SIGKILL on Linux and macOS; on Windows `Popen.kill` ends the process just as abruptly.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections import deque
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from evenhand.book.book import Book
from evenhand.book.durable import UNFINISHED
from evenhand.book.originals import digest
from evenhand.steps.measured import measured_runs
from evenhand.study.model import Pace, Scene, Setup, Study, Title
from evenhand.study.read import read_study
from evenhand.study.write import study_text

WORKER = Path(__file__).with_name("killed.py")
STUDY = Study(
    "What does the lean setup bring in Night Ferry?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=(Title("night-ferry", "Night Ferry", (Scene("night-ferry", "Night Ferry", pace=Pace.FRAMES),)),),
)
VISITS, RUNS = 4, 5


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty small logs of one scene."""
    folder = tmp_path_factory.mktemp("logs")
    rng = np.random.default_rng(7)
    (folder / "night-ferry").mkdir()
    for setup in ("plain", "lean"):
        for visit in range(1, VISITS + 1):
            for run in range(1, RUNS + 1):
                ms = rng.gamma(60, 0.12, 900)
                text = "elapsed_s,gap_ms\n" + "".join(f"{t:.6f},{x:.4f}\n" for t, x in zip(np.cumsum(ms) / 1e3, ms, strict=True))
                (folder / "night-ferry" / f"{setup}-v{visit}-r{run}.csv").write_text(text, encoding="utf-8")
    return folder


def begun(folder: Path) -> Path:
    Book.create(folder, study_text(STUDY)).close()
    return folder


class Taker:
    """One process that is ready to take in and waits for the word."""

    def __init__(self, study: Path, logs: Path, at: int = 0, when: str = "before") -> None:
        command = [sys.executable, str(WORKER), str(study), str(logs), str(at), when]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def go(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"
        self.process.stdin.write("go\n")
        self.process.stdin.flush()

    def kill_after(self, reports: int, seconds: float) -> list[str]:
        """Let it report so many logs and work so long after that, then kill it; the names of the logs that it reported."""
        assert self.process.stdout is not None
        heard = [self.process.stdout.readline() for _ in range(reports)]
        time.sleep(seconds)
        self.process.kill()
        return [line.strip() for line in heard if line.endswith(".csv\n")] + self.said()

    def said(self) -> list[str]:
        """The names of the logs that it reported until it ended. (`communicate` would lose what was read ahead.)"""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        out = self.process.stdout.read()
        self.process.stdout.close()
        self.process.stdin.close()
        self.process.wait(timeout=60)
        whole = out[: out.rfind("\n") + 1]
        return [line for line in whole.splitlines() if line.endswith(".csv")]

    def drop(self) -> None:
        """It is not needed any more."""
        self.process.kill()
        self.said()


def ahead(logs: Path, wanted: Iterable[tuple[Path, int, str]]) -> Iterator[tuple[Path, Taker]]:
    """Takers in turn, the next one started while the one before is at work: starting costs more than working."""
    waiting: deque[tuple[Path, Taker]] = deque()
    for study, at, when in wanted:
        waiting.append((study, Taker(study, logs, at, when)))
        if len(waiting) == 2:
            yield waiting.popleft()
    yield from waiting


def check(study: Path, logs: Path, reported: set[str]) -> int:
    """What must hold whatever happened; how many runs there are."""
    by_name = {path.name: path.read_bytes() for path in logs.rglob("*.csv")}
    with Book.open(study) as book:
        runs = book.runs()
        there = {f"{r.key.setup}-v{r.key.visit}-r{r.key.run}.csv": r for r in runs}
        assert len(there) == len(runs), "nothing is doubled"
        assert reported <= set(there), "every run that was reported is there"
        readings = book.readings()
        for name, run in there.items():
            assert book.original(run.sha256) == by_name[name]
            assert readings[run.id].frames == 900
            kept = book.kept_frames(readings[run.id].frames_sha256)
            assert kept is None or len(kept) == 900
        assert len(book.seals()) == 1 or (not runs and not book.seals()), "sealed once, before any run"
        assert len(book.stretches()) <= 1
        assert len([event for event in book.events() if event.kind == "stretch"]) == len(book.stretches())
    originals = [path for path in (study / "originals").rglob("*") if path.is_file() and not path.name.startswith(UNFINISHED)]
    assert {path.stem for path in originals} <= {digest(data) for data in by_name.values()}
    return len(runs)


@pytest.mark.parametrize("kills", [16, pytest.param(150, marks=pytest.mark.slow)])
def test_killed_at_random_moments(tmp_path: Path, logs: Path, kills: int) -> None:
    """Each kill falls a few hundredths of a second after a random number of reports, so that slow machines are hit in the middle
    too. Books are filled up over several kills, so that a killed taking in is also gone on with.
    """
    rng = random.Random(11)
    books, part_way, reported = 0, 0, set[str]()
    study = begun(tmp_path / "0")
    waiting = deque(Taker(study, logs) for _ in range(2))
    for _ in range(kills):
        taker = waiting.popleft()
        taker.go()
        reported |= set(taker.kill_after(rng.randrange(12), rng.uniform(0.0, 0.05)))
        found = check(study, logs, reported)
        part_way += 0 < found < 2 * VISITS * RUNS
        if found == 2 * VISITS * RUNS:
            for other in waiting:
                other.drop()
            books, reported = books + 1, set()
            study = begun(tmp_path / str(books))
            waiting = deque([Taker(study, logs)])
        waiting.append(Taker(study, logs))
    last = waiting.popleft()
    last.go()
    assert set(last.said()) == {path.name for path in logs.rglob("*.csv")}
    assert check(study, logs, {path.name for path in logs.rglob("*.csv")}) == 2 * VISITS * RUNS
    for other in waiting:
        other.drop()
    assert part_way >= kills / 4, "the kills must have hit in the middle of the work"


#: What a process returns that was killed: by SIGKILL, or on Windows by `os.kill` with the number of SIGTERM.
DIED = (-9, 15)
#: Steps at which the process ends itself: the first original and the first group's rows, then further ones; 0 = none.
FIRST, ALL = (1, 2, 3, 4, 13, 30), (*range(1, 31), 40, 50, 60, 80)


@pytest.mark.parametrize("steps", [FIRST, pytest.param(ALL, marks=pytest.mark.slow)], ids=["some", "all"])
@pytest.mark.parametrize("when", ["before", "after"])
def test_killed_at_durable_steps(tmp_path: Path, logs: Path, when: str, steps: tuple[int, ...]) -> None:
    """Dies at a step by itself: at the write of an original, its rename, the sync of its folder, a row, and so on."""
    found = []
    for study, taker in ahead(logs, ((begun(tmp_path / f"{at}"), at, when) for at in steps)):
        taker.go()
        found.append(check(study, logs, set(taker.said())))
        assert taker.process.returncode in DIED
    assert found[0] == 0
    assert 0 < found[-1] < 2 * VISITS * RUNS
    again = Taker(study, logs)
    again.go()
    assert len(again.said()) == check(study, logs, set()) == 2 * VISITS * RUNS
    with Book.open(study) as book:
        runs = measured_runs(book, read_study(book.study_file))
    assert len(runs) == 2 * VISITS * RUNS


def test_numbers_do_not_depend_on_how_often_it_was_killed(tmp_path: Path, logs: Path) -> None:
    tables = []
    for name, at in (("whole", 0), ("killed", 40)):
        study = begun(tmp_path / name)
        for _ in range(1 if at == 0 else 2):
            taker = Taker(study, logs, at)
            taker.go()
            taker.said()
            at = 0
        with Book.open(study) as book:
            measured_runs(book, read_study(book.study_file))
            table = book.kept_table("runs")
            assert table is not None
            tables.append(table.select(pl.exclude("code")))
    assert tables[0].equals(tables[1])
