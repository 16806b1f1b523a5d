"""Every log exactly as it came: named by the SHA-256 of its bytes, compressed, never changed, never deleted."""

from __future__ import annotations

import hashlib
from pathlib import Path

import zstandard

from evenhand.book.durable import make_folder, sweep, write_whole
from evenhand.errors import BookError, Problem

#: Level 3 packs a log to a tenth in a few milliseconds; higher levels cost more time than they save room.
LEVEL = 3


def digest(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Originals:
    """The folder `originals/`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where a log lies: `ab/abcdef….zst`."""
        return self.folder / sha256[:2] / f"{sha256}.zst"

    def put(self, data: bytes) -> str:
        """Keep a log and return its name. One that is there already and sound is left; one that is damaged is mended.

        Returns only when the log has reached the disk. Raises OSError; then nothing is kept.
        """
        name = digest(data)
        path = self.path(name)
        if not self._holds(path, name):
            make_folder(path.parent)
            write_whole(path, zstandard.ZstdCompressor(level=LEVEL).compress(data))
        return name

    def get(self, sha256: str) -> bytes:
        """The log of that name. Raises BookError when it is gone or is not what was put there."""
        path = self.path(sha256)
        where = path.relative_to(self.folder.parent).as_posix()
        mend = "take the same log in again, or bring this file back from a backup"
        try:
            data = _unpacked(path.read_bytes())
        except FileNotFoundError:
            raise BookError(Problem("original-missing", "the original of a run is gone", where, mend)) from None
        except zstandard.ZstdError as error:
            raise BookError(Problem("original-damaged", f"the original cannot be unpacked ({error})", where, mend)) from None
        except OSError as error:
            what = f"the original cannot be read ({error.strerror})"
            raise BookError(Problem("original-missing", what, where, mend)) from error
        if digest(data) != sha256:
            what = "the original is not what was taken in: its SHA-256 is not its name"
            raise BookError(Problem("original-damaged", what, where, mend))
        return data

    def names(self) -> frozenset[str]:
        """Names of all logs in the folder."""
        return frozenset(path.stem for path in self.folder.glob("??/*.zst"))

    def sweep(self) -> int:
        """Remove what died processes left half-written; returns how many files."""
        return sweep(self.folder)

    @staticmethod
    def _holds(path: Path, name: str) -> bool:
        try:
            return digest(_unpacked(path.read_bytes())) == name
        except (OSError, zstandard.ZstdError):
            return False


def _unpacked(packed: bytes) -> bytes:
    return zstandard.ZstdDecompressor().decompress(packed)
