"""`watch` is killed at random moments and after each kind of durable step, while logs appear, and begun again. Every log becomes
one run, whatever was told of it before; nothing is doubled, and the person's files are as they were.

SIGKILL on Linux and macOS; on Windows `Popen.kill` ends the process just as abruptly.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.book.originals import digest
from evenhand.study.model import Pace, Protocol, Scene, Setup, Study, Title
from evenhand.study.write import study_text

WORKER = Path(__file__).with_name("watched.py")
LOGS = 12
STUDY = Study(
    "What does the lean setup bring in Night Ferry?",
    baseline="plain",
    setups=(Setup("plain", "Plain"), Setup("lean", "Lean")),
    titles=(Title("night-ferry", "Night Ferry", (Scene("night-ferry", "Night Ferry", pace=Pace.FRAMES),)),),
    protocol=Protocol(visits=1, runs=LOGS),
)


def logs() -> dict[str, bytes]:
    """Small logs of one scene."""
    rng = np.random.default_rng(5)
    course = np.exp(rng.normal(0, 0.2, 90)).repeat(10)
    made = {}
    for number in range(LOGS):
        ms = 7.0 * course * rng.gamma(60, 1 / 60, 900)
        rows = (f"{t:.6f},{x:.4f}\n" for t, x in zip(np.cumsum(ms) / 1e3, ms, strict=True))
        made[f"recording {number}.csv"] = ("elapsed_s,gap_ms\n" + "".join(rows)).encode()
    return made


def begin(study: Path, inbox: Path, at: int = 0) -> subprocess.Popen[str]:
    command = [sys.executable, str(WORKER), str(study), str(inbox), str(at)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8")
    assert process.stdout is not None
    return process


def heard(process: subprocess.Popen[str]) -> set[str]:
    """Names of the logs that were told as taken, until the process ended."""
    assert process.stdout is not None
    lines = process.stdout.read().splitlines()
    process.stdout.close()
    process.wait(timeout=60)
    return {line.partition(" ")[2] for line in lines if line.startswith(("kept ", "doubtful "))}


def check(study: Path, inbox: Path, made: dict[str, bytes], told: set[str]) -> int:
    """What must hold whatever happened; how many runs there are."""
    assert {path.name: path.read_bytes() for path in inbox.iterdir()} == {name: made[name] for name in sorted_names(inbox)}
    with Book.open(study) as book:
        runs = book.runs()
        taken = [run.sha256 for run in runs]
        assert len(set(taken)) == len(taken), "nothing is doubled"
        assert {digest(made[name]) for name in told} <= set(taken), "what was told is there"
        assert all(book.original(sha256) for sha256 in taken)
        assert sorted(run.key.run for run in runs) == list(range(1, len(runs) + 1))
    return len(runs)


def sorted_names(inbox: Path) -> list[str]:
    return sorted(path.name for path in inbox.iterdir())


@pytest.mark.parametrize("kills", [4, pytest.param(30, marks=pytest.mark.slow)])
def test_killed_at_random_moments_while_logs_appear(tmp_path, kills):
    rng = random.Random(kills)
    made = logs()
    waiting = list(made)
    study, inbox = tmp_path / "study", tmp_path / "inbox"
    Book.create(study, study_text(STUDY)).close()
    inbox.mkdir()
    told: set[str] = set()
    for kill in range(kills):
        process = begin(study, inbox)
        assert process.stdout is not None
        process.stdout.readline()
        for _ in range(-(-len(waiting) // (kills - kill))):
            name = waiting.pop()
            (inbox / name).write_bytes(made[name])
        time.sleep(rng.uniform(0.2, 1.2))
        process.kill()
        told |= heard(process)
        check(study, inbox, made, told)
    told |= heard(begin(study, inbox))
    assert check(study, inbox, made, told) == LOGS


@pytest.mark.parametrize(
    "steps", [(1, 3, 6, 9), pytest.param(tuple(range(1, 25, 2)), marks=pytest.mark.slow)], ids=["some", "all"]
)
def test_killed_after_durable_steps(tmp_path, steps):
    """After the note that watching began, the original's write, the seal, the run, its reading, the note of what became of it."""
    made = dict(list(logs().items())[:3])
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    for name, log in made.items():
        (inbox / name).write_bytes(log)
    for at in steps:
        study = tmp_path / f"study {at}"
        Book.create(study, study_text(STUDY)).close()
        process = begin(study, inbox, at)
        told = heard(process)
        assert process.returncode in (-9, 15)
        check(study, inbox, made, told)
        told |= heard(begin(study, inbox))
        assert check(study, inbox, made, told) == len(made)
