"""The recorded campaigns: every log is read without a flag, with every frame, as precisely as it was written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import PurePosixPath

import numpy as np
import pytest

from evenhand.examples.measured import measured_files
from evenhand.frames.model import Nanoseconds, Reading
from evenhand.frames.read import read_log, recipe_of


def finest(path: str, data: bytes, ns: Nanoseconds) -> Nanoseconds:
    """Frames of the logs with rates beside elapsed time: slow frames are finer in the time, whose last digit is a microsecond."""
    if not path.endswith(".tsv"):
        return ns
    cells = [line.split("\t") for line in data.decode().splitlines()[1:]]
    rates = np.array([float(rate) for _, rate in cells])
    steps = np.diff([round(float(at) * 1e6) * 1000 for at, _ in cells], prepend=0)
    finer = 1e9 * 1e-3 / rates**2 > 1000
    finer[0] = False
    return np.where(finer, steps, ns)


@pytest.mark.parametrize("name", ["campaign", "spoiled", "quiet"])
def test_every_log_is_read_whole(name: str, recordings: Callable[[str], list]) -> None:
    files = dict(measured_files("quiet" if name == "quiet" else "campaign"))
    recipes: dict[str, set[object]] = {}
    for recording in recordings(name):
        data = files[PurePosixPath(recording.path)]
        reading: Reading = read_log(data, name=recording.path)
        assert len(reading.frames) == int(recording.row["presents"]) - 1
        assert not reading.sampled
        assert not reading.bad_rows
        assert np.array_equal(reading.frames.ns, finest(recording.path, data, recording.frames.ns))
        recipes.setdefault(recording.scene, set()).add(recipe_of(reading))
    assert all(len(same) == 1 for same in recipes.values()), "logs of one format are read by one recipe"


def test_labels_of_the_preamble_are_kept() -> None:
    files = {str(path): data for path, data in measured_files("campaign")}
    labels = read_log(files["keep/A-v1-r1.csv"], name="keep").labels
    assert labels
    assert all(value for value in labels.values())
