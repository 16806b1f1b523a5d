"""Which files of a folder cannot be logs, by their names alone."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePath
from typing import Final

_KINDS: Final[tuple[tuple[str, str], ...]] = (
    ("png jpg jpeg gif bmp webp svg tif tiff ico heic psd", "a picture"),
    ("mp4 mkv avi mov webm wmv wav mp3 flac ogg m4a", "a recording of picture or sound"),
    ("md rst pdf doc docx odt rtf html htm url lnk", "a document"),
    ("xls xlsx ods xlsm", "a spreadsheet; save its sheet as CSV"),
    ("zip 7z rar tar tgz bz2 iso", "an archive; unpack it first"),
    ("exe dll msi so dylib bat cmd ps1 sh py js jar", "a program"),
    ("toml yaml yml ini cfg conf json xml sqlite db sqlite-wal sqlite-shm parquet", "settings or data of a program"),
    ("tmp bak swp part crdownload lock", "left over by a program"),
)
_WHY: Final = {ending: why for endings, why in _KINDS for ending in endings.split()}
_NOTES: Final = re.compile(r"(read[ _-]?me|licen[cs]e|notes?|todo|changelog|info|copying)(\.[a-z]{2,4})?", re.IGNORECASE)
_SYSTEM: Final = {"thumbs.db", "desktop.ini", "icon\r", "ehthumbs.db"}


def sieve(paths: Sequence[PurePath]) -> tuple[tuple[PurePath, ...], dict[PurePath, str]]:
    """The paths that may be logs, and the others with the reason."""
    reasons = {path: _reason(path) for path in paths}
    return tuple(p for p, why in reasons.items() if not why), {p: why for p, why in reasons.items() if why}


def _reason(path: PurePath) -> str:
    name = path.name.casefold()
    if (
        any(part.startswith(".") and part not in (".", "..") for part in path.parts)
        or name in _SYSTEM
        or "__MACOSX" in path.parts
    ):
        return "a hidden or system file"
    if name.startswith("~$") or name.endswith("~"):
        return "left over by a program"
    if _NOTES.fullmatch(name):
        return "notes, by its name"
    return _WHY.get(path.suffix[1:].casefold(), "")
