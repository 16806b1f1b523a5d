"""The logs of the invented study, as text, are read back without a word of help, and lose no more than their last digit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenhand.examples.invented import RUNS, VISITS, invented_frames, invented_study, invented_truth, write_logs
from evenhand.frames.read import read_log
from evenhand.study.model import RunKey

STUDY = invented_study()
TRUTH = invented_truth()
#: One run of every title and every spoiled run.
KEYS = [*(RunKey(t.name, t.name, "slow-45", VISITS, RUNS) for t in STUDY.titles), *TRUTH.spoiled]
#: Suffix -> half of the last digit that the format writes, twice where a frame is the difference of two times, in ns.
LAST_DIGIT = {".csv": 50, ".tsv": 500, ".log": 1000}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("invented")
    write_logs(made)
    return made


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_log_is_read_without_help(folder: Path, key: RunKey) -> None:
    (path,) = (folder / key.title).glob(f"{key.setup}-v{key.visit}-r{key.run}.*")
    reading = read_log(path.read_bytes(), name=path.name)
    written = invented_frames(key)
    assert len(reading.frames) == len(written)
    assert np.abs(reading.frames.ns - written.ns).max() <= LAST_DIGIT[path.suffix]
