"""The shipped recordings unpack to what their own tables say."""

from __future__ import annotations

import csv
import io
from pathlib import Path, PurePosixPath

import pytest

from evenhand.examples.measured import is_safe, measured_files, unpack

ROWS = {("campaign", "runs.csv"): 96, ("campaign", "spoiled/runs.csv"): 21, ("quiet", "runs.csv"): 72}


def test_every_log_named_in_the_tables_is_there_and_unpacks_unchanged(tmp_path: Path) -> None:
    for (campaign, table), count in ROWS.items():
        content = dict(measured_files(campaign))
        unpack(campaign, tmp_path / campaign)
        rows = list(csv.DictReader(io.StringIO(content[PurePosixPath(table)].decode("utf-8"))))
        assert len(rows) == count
        for row in rows:
            path = PurePosixPath(table).parent / row["log"]
            assert (tmp_path / campaign / path).read_bytes() == content[path]


def test_an_unknown_campaign_is_an_error() -> None:
    with pytest.raises(KeyError):
        list(measured_files("loud"))


@pytest.mark.parametrize("path", ["../x", "/x", "a/../../x", "C:/x", "a\\..\\b", "."])
def test_a_path_that_leaves_the_folder_is_not_safe(path: str) -> None:
    assert not is_safe(PurePosixPath(path))
    assert is_safe(PurePosixPath("keep/A-v1-r1.csv"))
