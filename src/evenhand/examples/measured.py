"""The two measured campaigns that ship with the program: real frame logs of a 2 × 2 experiment, as they came.

`campaign` was recorded on a noisy machine and has a folder of runs spoiled on purpose; `quiet` on a calm one. Each has a
README.md that says how it was made and a runs.csv that says what each log is.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path, PurePosixPath
from typing import Final

CAMPAIGNS: Final = ("campaign", "quiet")


def measured_files(campaign: str) -> Iterator[tuple[PurePosixPath, bytes]]:
    """Path (relative to the campaign's folder) and content of every file of a campaign, in the order of their names.

    Raises KeyError for a name that is not in `CAMPAIGNS`.
    """
    if campaign not in CAMPAIGNS:
        raise KeyError(campaign)
    packed = files("evenhand.examples").joinpath("data", "measured.zip")
    with packed.open("rb") as stream, zipfile.ZipFile(stream) as archive:
        for entry in sorted(archive.namelist()):
            path = PurePosixPath(entry)
            if path.parts[0] == campaign:
                yield PurePosixPath(*path.parts[1:]), archive.read(entry)


def unpack(campaign: str, folder: Path) -> None:
    """Write the files of a campaign into `folder`, which is made where it is missing.

    Raises KeyError as `measured_files`; ValueError for a path that leaves the folder.
    """
    for path, content in measured_files(campaign):
        if not is_safe(path):
            raise ValueError(f"{path} leaves the folder")
        target = folder.joinpath(*path.parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)


def is_safe(path: PurePosixPath) -> bool:
    """Whether a path of an archive stays below the folder that it is unpacked into, on Windows too."""
    bad = any(part in {"", ".", ".."} or ":" in part or "\\" in part for part in path.parts)
    return bool(path.parts) and not path.is_absolute() and not bad
