"""Which processors there are, from what Windows answers (SYSTEM_LOGICAL_PROCESSOR_INFORMATION_EX, as its maker documents it)."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from evenhand.bench.model import Kind, LogicalCpu, Topology

_CORE, _CACHE, _PACKAGE = 0, 2, 3
_GROUP_CPUS = 64


def windows_topology(answer: bytes) -> Topology:
    """Topology from the answer of GetLogicalProcessorInformationEx for all relations, of 64-bit Windows.

    Processors are numbered 64 × group + place. An answer that breaks off gives what came before the break.
    """
    cores: dict[int, tuple[int, int]] = {}
    packages: dict[int, int] = {}
    modules: dict[int, int] = {}
    for relation, data in _records(answer):
        if relation == _CORE:
            mine = len({core for core, _ in cores.values()})
            cores.update(dict.fromkeys(_masked(data, 22), (mine, data[1])))
        elif relation == _PACKAGE:
            packages.update(dict.fromkeys(_masked(data, 22), len(set(packages.values()))))
        elif relation == _CACHE and data[0] == 2:
            modules.update(dict.fromkeys(_masked(data, 30), len(set(modules.values()))))
    classes = {efficiency for _, efficiency in cores.values()}
    cpus = tuple(
        LogicalCpu(n, True, core, packages.get(n), modules.get(n), _kind(efficiency, classes), None)
        for n, (core, efficiency) in sorted(cores.items())
    )
    return Topology(cpus, "the system's efficiency classes" if len(classes) > 1 else "")


def _kind(efficiency: int, classes: set[int]) -> Kind:
    """The higher the class, the faster the core; the lowest of several is the efficiency cores."""
    if len(classes) < 2:
        return Kind.ALIKE
    return Kind.EFFICIENCY if efficiency == min(classes) else Kind.PERFORMANCE


def _records(answer: bytes) -> Iterator[tuple[int, bytes]]:
    """(relation, what follows the eight bytes of its head)."""
    at = 0
    while at + 8 <= len(answer):
        relation, size = struct.unpack_from("<II", answer, at)
        if size < 32 or at + size > len(answer):
            return
        yield relation, answer[at + 8 : at + size]
        at += size


def _masked(data: bytes, count_at: int) -> list[int]:
    """Processors of the group masks; `count_at` is where their number stands. A count of 0 means one (older Windows)."""
    (count,) = struct.unpack_from("<H", data, count_at)
    found = []
    for i in range(max(count, 1)):
        start = count_at + 2 + 16 * i
        if start + 10 > len(data):
            break
        mask, group = struct.unpack_from("<QH", data, start)
        found += [_GROUP_CPUS * group + bit for bit in range(_GROUP_CPUS) if mask >> bit & 1]
    return found
