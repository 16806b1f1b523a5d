"""Bytes of a log from disk, within bounds: neither a huge file nor a compressed bomb exhausts memory."""

from __future__ import annotations

import gzip
import io
import lzma
from pathlib import Path
from typing import BinaryIO, Final

import zstandard

from evenhand.errors import LogError, Problem

MOST_BYTES: Final = 256 * 2**20  # of text; an hour at 500 frames a second in 25 columns is a fifth of it
STEP: Final = 2**20
XZ_MEMORY: Final = 64 * 2**20

GZIP: Final = b"\x1f\x8b"
XZ: Final = b"\xfd7zXZ\x00"
ZSTD: Final = b"\x28\xb5\x2f\xfd"


def load_bytes(path: Path) -> bytes:
    """The bytes of the log at `path`, unpacked where it is gzip, xz or Zstandard. Raises LogError, never fills memory."""
    try:
        with path.open("rb") as file:
            return _unpacked(file, str(path))
    except OSError as error:
        raise LogError(
            Problem(
                "log-unreadable", f"the log cannot be read: {error.strerror or error}", str(path), "check the path and its rights"
            )
        ) from error


def unpack(data: bytes, name: str) -> bytes:
    """The same for bytes that are in memory already; what is not packed is passed on as it is."""
    if not data.startswith((GZIP, XZ, ZSTD)):
        _check(len(data), name)
        return data
    return _unpacked(io.BytesIO(data), name)


def _unpacked(file: BinaryIO, name: str) -> bytes:
    magic = file.read(6)
    file.seek(0)
    try:
        if magic.startswith(GZIP):
            return _bounded(gzip.GzipFile(fileobj=file), name)
        if magic.startswith(XZ):
            return _xz(file, name)
        if magic.startswith(ZSTD):
            return _bounded(zstandard.ZstdDecompressor().stream_reader(file, read_across_frames=True), name)
    except (EOFError, lzma.LZMAError, zstandard.ZstdError, gzip.BadGzipFile) as error:
        what = f"the compressed log is damaged or cut off: {error}"
        raise LogError(Problem("log-unreadable", what, name, "copy it again from where it was recorded")) from error
    return _bounded(file, name)


def _xz(file: BinaryIO, name: str) -> bytes:
    """Streams of xz one after another, as `xz` itself takes them."""
    unpacker = lzma.LZMADecompressor(memlimit=XZ_MEMORY)
    parts: list[bytes] = []
    size, packed = 0, b""
    while True:
        if unpacker.eof:
            packed = unpacker.unused_data or file.read(STEP)
            if not packed.strip(b"\x00"):
                return b"".join(parts)
            unpacker = lzma.LZMADecompressor(memlimit=XZ_MEMORY)
        elif unpacker.needs_input:
            packed = file.read(STEP)
            if not packed:
                raise EOFError("its end is missing")
        parts.append(unpacker.decompress(packed, STEP))
        packed = b""
        size += len(parts[-1])
        _check(size, name)


def _bounded(file: io.BufferedIOBase | BinaryIO | gzip.GzipFile | zstandard.ZstdDecompressionReader, name: str) -> bytes:
    parts, size = [], 0
    while part := file.read(STEP):
        parts.append(part)
        size += len(part)
        _check(size, name)
    return b"".join(parts)


def _check(size: int, name: str) -> None:
    if size > MOST_BYTES:
        what = f"the log is larger than {MOST_BYTES // 2**20} MB of text"
        raise LogError(Problem("log-too-large", what, name, "record shorter, or cut the log into one file a run"))
