"""The shipped recordings as frames, read by a few lines of their own: independent of the program's reader of logs."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import PurePosixPath

import numpy as np
import pytest

from evenhand.examples.measured import measured_files
from evenhand.frames.model import Frames

TABLES = {"campaign": ("runs.csv",), "spoiled": ("spoiled/truth.csv",), "quiet": ("runs.csv",)}


@dataclass(frozen=True)
class Recording:
    """One log: its path, its row of the campaign's table, its frames."""

    path: str
    row: dict[str, str]
    frames: Frames

    @property
    def scene(self) -> str:
        return self.path.split("/")[-2]


@pytest.fixture(scope="session")
def recordings() -> Callable[[str], list[Recording]]:
    """`recordings(name)`: all logs of "campaign", "spoiled" or "quiet" in the order of their table."""
    return load


@cache
def load(name: str) -> list[Recording]:
    files = dict(measured_files("quiet" if name == "quiet" else "campaign"))
    found = []
    for table in map(PurePosixPath, TABLES[name]):
        for row in csv.DictReader(io.StringIO(files[table].decode("utf-8"))):
            path = table.parent / row["log"]
            found.append(Recording(str(path), row, Frames(durations(path.suffix, files[path]))))
    return found


def durations(suffix: str, data: bytes) -> np.ndarray:
    """Nanoseconds of the frames of a log in one of the five formats that the campaigns' README.md describes."""
    if suffix == ".txt":  # times, ns
        return np.diff(np.array(data.split(), dtype=np.int64))
    if suffix == ".tsv":  # seconds since the first present; rate of the frame
        return np.rint(1e9 / np.array([float(line.split("\t")[1]) for line in data.decode().splitlines()[1:]])).astype(np.int64)
    if data.startswith(b"\xff\xfe"):  # UTF-16: number, microseconds
        column, per_unit, lines = 1, 1e3, data.decode("utf-16").splitlines()[1:]
    elif data.startswith(b"#"):  # preamble; number;milliseconds with a decimal comma
        lines = [line.replace(",", ".").replace(";", ",") for line in data.decode().splitlines() if not line.startswith("#")][1:]
        column, per_unit = 1, 1e6
    else:  # frame, elapsed, milliseconds
        column, per_unit, lines = 2, 1e6, data.decode().splitlines()[1:]
    return np.rint(np.array([float(line.split(",")[column]) for line in lines]) * per_unit).astype(np.int64)
