"""What can be made again from originals and ledger, kept to be quick: frames and numbers as Parquet.

Every file carries a seal of its bytes in its name (`abcdef….0123456789abcdef.parquet`), so a damaged or half-copied one is
known before it is opened; it is then as good as missing. The folder may be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
from collections.abc import Set
from pathlib import Path

import numpy as np
import polars as pl

from evenhand.book.durable import sweep, write_whole
from evenhand.frames.model import Frames

#: Half a digest names frames well enough (the whole one is checked); Windows paths may not grow long.
_STEM = 32
_INT32_MAX = int(np.iinfo(np.int32).max)


def frames_digest(frames: Frames) -> str:
    """SHA-256 of the durations as little-endian 64-bit nanoseconds: the same on every machine."""
    return hashlib.sha256(np.ascontiguousarray(frames.ns, dtype="<i8").tobytes()).hexdigest()


class Derived:
    """The folder `derived/`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def frames(self, sha256: str) -> Frames | None:
        """Frames by their digest; None when they must be read from the original again."""
        packed = _read_sealed(self._frames_folder(sha256), sha256[:_STEM])
        if packed is None:
            return None
        column = pl.read_parquet(io.BytesIO(packed), columns=["ns"])["ns"]
        frames = Frames(column.to_numpy().astype(np.int64))
        return frames if frames_digest(frames) == sha256 else None

    def keep_frames(self, frames: Frames, sha256: str) -> None:
        """Keep frames under their digest: 32-bit nanoseconds, 64-bit where a frame lasted over 2.1 s. Never raises OSError."""
        narrow = int(frames.ns.max()) <= _INT32_MAX
        table = pl.DataFrame({"ns": frames.ns.astype(np.int32) if narrow else frames.ns})
        _write_sealed(self._frames_folder(sha256), sha256[:_STEM], _packed(table))

    def table(self, name: str) -> pl.DataFrame | None:
        """A table of numbers by its name; None when it must be made again."""
        packed = _read_sealed(self.folder, name)
        return None if packed is None else pl.read_parquet(io.BytesIO(packed))

    def keep_table(self, name: str, table: pl.DataFrame) -> None:
        """Keep a table in place of an earlier one of that name. Never raises OSError."""
        _write_sealed(self.folder, name, _packed(table))

    def tidy(self, needed: Set[str]) -> None:
        """Remove frames of other digests than `needed`, as far as no other program holds them."""
        stems = {sha256[:_STEM] for sha256 in needed}
        for path in self.folder.glob("frames/??/*.parquet"):
            if path.name.partition(".")[0] not in stems:
                with contextlib.suppress(OSError):
                    path.unlink()
        sweep(self.folder)

    def _frames_folder(self, sha256: str) -> Path:
        return self.folder / "frames" / sha256[:2]


def _packed(table: pl.DataFrame) -> bytes:
    file = io.BytesIO()
    table.write_parquet(file, compression="zstd", compression_level=3, statistics=False)
    return file.getvalue()


def _seal(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _read_sealed(folder: Path, stem: str) -> bytes | None:
    for path in folder.glob(f"{stem}.*.parquet"):
        with contextlib.suppress(OSError):
            data = path.read_bytes()
            if path.name == f"{stem}.{_seal(data)}.parquet":
                return data
    return None


def _write_sealed(folder: Path, stem: str, data: bytes) -> None:
    path = folder / f"{stem}.{_seal(data)}.parquet"
    with contextlib.suppress(OSError):  # a full disk or a held file costs speed later, not data
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(path, data, durable=False)
        for other in folder.glob(f"{stem}.*.parquet"):
            if other != path:
                other.unlink()
