"""Which processors there are: cores, threads, kinds, from what Linux shows of them.

Source: the kernel's Documentation/ABI, sysfs-devices-system-cpu.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Hashable, Mapping
from typing import TypeVar

from evenhand.bench.model import Kind, LogicalCpu, Topology

CPUS = "sys/devices/system/cpu"
#: Figures of the same kind of core differ by less than this share: a core that may boost higher is of no other kind.
ALIKE = 0.10
#: What tells kinds of cores apart, best first. The highest clock does not: it differs between cores of one kind.
FIGURES = ("cpufreq/base_frequency", "cpu_capacity", "acpi_cppc/nominal_perf")

Files = Mapping[str, str]
H = TypeVar("H", bound=Hashable)


def linux_topology(files: Files) -> Topology:
    """Topology from files below the root, path -> text. No processor is left out: one without a topology is switched off."""
    numbers = sorted({int(m.group(1)) for path in files if (m := re.match(rf"{CPUS}/cpu(\d+)/", path))} | _present(files))
    on = [n for n in numbers if _is_online(files, n)]
    cores = _numbered({n: _mask(files, n, "topology/core_cpus", "topology/thread_siblings") or frozenset({n}) for n in on})
    packages = _numbered({n: _own(files, n, "topology/physical_package_id") for n in on})
    modules = _numbered({n: _second_cache(files, n) for n in on})
    kinds, kind_from = _kinds(files, on)
    cpus = tuple(
        LogicalCpu(
            number=n,
            online=n in cores,
            core=cores.get(n),
            package=packages.get(n),
            module=modules.get(n),
            kind=kinds.get(n, Kind.UNTOLD),
            max_mhz=_mhz(files, n),
        )
        for n in numbers
    )
    return Topology(cpus, kind_from)


def cpu_list(text: str) -> frozenset[int]:
    """Numbers of a list such as `0-3,8,10-11`."""
    found: set[int] = set()
    for part in text.replace("\n", ",").split(","):
        ends = part.strip().split("-")
        if ends[0].isdigit() and ends[-1].isdigit():
            found.update(range(int(ends[0]), int(ends[-1]) + 1))
    return frozenset(found)


def cpu_mask(text: str) -> frozenset[int]:
    """Numbers of a mask such as `00000000,00000101`: hexadecimal, the highest word first."""
    bits = int(text.replace(",", "").strip() or "0", 16)
    return frozenset(i for i in range(bits.bit_length()) if bits >> i & 1)


def _present(files: Files) -> frozenset[int]:
    return cpu_list(files.get(f"{CPUS}/present", ""))


def _own(files: Files, number: int, name: str) -> str | None:
    return files.get(f"{CPUS}/cpu{number}/{name}")


def _is_online(files: Files, number: int) -> bool:
    """By its own switch, by the list of all, and by having a topology at all."""
    if _own(files, number, "online") == "0":
        return False
    listed = files.get(f"{CPUS}/online")
    if listed is not None and number not in cpu_list(listed):
        return False
    return any(_own(files, number, f"topology/{name}") is not None for name in ("core_id", "thread_siblings", "core_cpus"))


def _mask(files: Files, number: int, *names: str) -> frozenset[int] | None:
    for name in names:
        text = _own(files, number, name)
        if text is not None:
            return cpu_mask(text)
    return None


def _second_cache(files: Files, number: int) -> frozenset[int] | None:
    for index in range(8):
        cache = f"cache/index{index}"
        if _own(files, number, f"{cache}/level") == "2":
            return _mask(files, number, f"{cache}/shared_cpu_map")
    return None


def _numbered(marks: Mapping[int, H | None]) -> dict[int, int | None]:
    """Equal marks get equal numbers, from 0 in the order of their first processor."""
    seen: dict[H, int] = {}
    return {n: None if mark is None else seen.setdefault(mark, len(seen)) for n, mark in marks.items()}


def _kinds(files: Files, online: list[int]) -> tuple[dict[int, Kind], str]:
    core, atom = files.get("sys/devices/cpu_core/cpus"), files.get("sys/devices/cpu_atom/cpus")
    if core is not None and atom is not None:
        small = cpu_list(atom)
        kinds = {n: Kind.EFFICIENCY if n in small else Kind.PERFORMANCE for n in online}
        return (kinds if small else dict.fromkeys(online, Kind.ALIKE)), "the system's own lists of kinds"
    for name in FIGURES:
        figures = {n: float(text) for n in online if (text := _own(files, n, name)) and text.isdigit() and int(text) > 0}
        if online and len(figures) == len(online):
            return _by_figure(figures), name
    return dict.fromkeys(online, Kind.ALIKE), ""


def _by_figure(figures: Mapping[int, float]) -> dict[int, Kind]:
    """Two kinds where neighbouring figures, in order of size, lie apart; the lowest group is the efficiency cores."""
    ordered = sorted(set(figures.values()))
    gaps = [(upper / lower - 1, lower) for lower, upper in itertools.pairwise(ordered)]
    apart = [lower for gap, lower in gaps if gap > ALIKE]
    if not apart:
        return dict.fromkeys(figures, Kind.ALIKE)
    return {n: Kind.EFFICIENCY if value <= apart[0] else Kind.PERFORMANCE for n, value in figures.items()}


def _mhz(files: Files, number: int) -> float | None:
    text = _own(files, number, "cpufreq/cpuinfo_max_freq")
    return int(text) / 1000 if text and text.isdigit() else None
