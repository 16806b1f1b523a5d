"""Memory modules from the firmware's own description of the machine (SMBIOS, DMTF DSP0134, structure type 17)."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

_MEMORY_DEVICE = 17
_END = 127
_KINDS = {0x18: "DDR3", 0x1A: "DDR4", 0x1E: "LPDDR4", 0x22: "DDR5", 0x23: "LPDDR5"}
_MEGABYTE = 2**20


@dataclass(frozen=True, slots=True)
class MemoryModule:
    """One module. mts : rate it runs at, million transfers a second; rated_mts : what it says it can; None where not stated."""

    slot: str
    size_bytes: int
    kind: str
    mts: float | None
    rated_mts: float | None


def memory_modules(table: bytes) -> tuple[MemoryModule, ...]:
    """Modules that are there, in the table's order; a table that breaks off gives those before the break."""
    found = []
    for kind, data, texts in _structures(table):
        size = _size(data) if kind == _MEMORY_DEVICE else 0
        if size:
            slot = _named(texts, data[0x10] if len(data) > 0x10 else 0)
            running = _word(data, 0x20)
            rated = _word(data, 0x15)
            found.append(MemoryModule(slot, size, _KINDS.get(data[0x12] if len(data) > 0x12 else 0, ""), running, rated))
    return tuple(found)


def _structures(table: bytes) -> Iterator[tuple[int, bytes, list[str]]]:
    """(type, formatted part, texts) of each structure."""
    at = 0
    while at + 4 <= len(table):
        kind, length = table[at], table[at + 1]
        end = table.find(b"\0\0", at + length)
        if length < 4 or end < 0 or at + length > len(table):
            return
        texts = [t.decode("utf-8", "replace") for t in table[at + length : end].split(b"\0")]
        yield kind, table[at : at + length], texts
        if kind == _END:
            return
        at = end + 2


def _size(data: bytes) -> int:
    """Bytes; 0 = empty or unknown."""
    if len(data) < 0x0E:
        return 0
    (size,) = struct.unpack_from("<H", data, 0x0C)
    if size == 0x7FFF and len(data) >= 0x20:
        (extended,) = struct.unpack_from("<I", data, 0x1C)
        return int(extended & 0x7FFFFFFF) * _MEGABYTE
    if size in (0, 0xFFFF):
        return 0
    return int(size & 0x7FFF) * (1024 if size & 0x8000 else _MEGABYTE)


def _word(data: bytes, at: int) -> float | None:
    if len(data) < at + 2:
        return None
    (value,) = struct.unpack_from("<H", data, at)
    return float(value) if 0 < value < 0xFFFF else None


def _named(texts: list[str], number: int) -> str:
    return texts[number - 1].strip() if 0 < number <= len(texts) else ""
