"""Every fact of a PC that a snapshot may hold, in one table: what it means, and how much a change of it matters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Final

from evenhand.bench.model import Grade


class Sort(Enum):
    """What a fact's value is."""

    TEXT = "text"
    NUMBER = "a number"
    FLAG = "true or false"


@dataclass(frozen=True, slots=True)
class FactRow:
    """One fact. unit : of a number, "" for none. grade : of a change that no factor explains. near : numbers that differ by no
    more than this share are the same.
    """

    key: str
    label: str
    sort: Sort
    unit: str
    grade: Grade
    help: str
    near: float = 0.0


_T, _N, _F = Sort.TEXT, Sort.NUMBER, Sort.FLAG
_BLOCKS, _NOTE, _NOISE = Grade.BLOCKS, Grade.NOTE, Grade.NOISE

_ROWS: Final = (
    FactRow("processor", "processor", _T, "", _BLOCKS, "name that the processor gives itself"),
    FactRow("microcode", "microcode", _T, "", _BLOCKS, "revision that is loaded; firmware and systems bring new ones"),
    FactRow("logical_cpus", "logical processors", _N, "", _BLOCKS, "processors that the system may use"),
    FactRow("physical_cores", "cores", _N, "", _BLOCKS, "cores with at least one processor switched on"),
    FactRow("performance_cores", "performance cores", _N, "", _BLOCKS, "large cores, where there are two kinds; else all cores"),
    FactRow("efficiency_cores", "efficiency cores", _N, "", _BLOCKS, "small cores, where there are two kinds; else 0"),
    FactRow("threads_per_core", "threads per core", _N, "", _BLOCKS, "most processors that one core shows"),
    FactRow("max_clock_mhz", "highest clock", _N, "MHz", _BLOCKS, "highest clock that any core may reach", 0.005),
    FactRow("boost", "boost", _F, "", _BLOCKS, "whether clocks may go above the base clock"),
    FactRow("governor", "governor", _T, "", _BLOCKS, "how the system chooses clocks"),
    FactRow("energy_preference", "energy preference", _T, "", _BLOCKS, "hint of speed against power that the processor is given"),
    FactRow("power_plan", "power plan", _T, "", _BLOCKS, "the system's power plan"),
    FactRow("power_limit_w", "power limit", _N, "W", _BLOCKS, "sustained limit of the processor's power", 0.005),
    FactRow("mitigations", "mitigations", _T, "", _BLOCKS, "which measures against leaks of the processor are on"),
    FactRow("memory_integrity", "memory integrity", _F, "", _BLOCKS, "whether the system guards its core by virtual machine"),
    FactRow("memory_gb", "memory", _N, "GB", _BLOCKS, "memory in all, in units of 2³⁰ bytes", 0.02),
    FactRow("memory_modules", "memory modules", _N, "", _BLOCKS, "slots that are filled"),
    FactRow("memory_kind", "kind of memory", _T, "", _BLOCKS, "DDR4, DDR5 ..."),
    FactRow("memory_mts", "memory rate", _N, "MT/s", _BLOCKS, "rate the modules run at, million transfers a second", 0.005),
    FactRow("memory_timings", "memory timings", _T, "", _BLOCKS, "as a person typed them in: no system states them"),
    FactRow("board", "board", _T, "", _BLOCKS, "maker and name of the board, or of the whole PC"),
    FactRow("firmware_version", "firmware", _T, "", _BLOCKS, "version and date of the board's firmware"),
    FactRow("graphics_card", "graphics card", _T, "", _BLOCKS, "what draws the frames"),
    FactRow("graphics_driver", "graphics driver", _T, "", _BLOCKS, "its version"),
    FactRow("graphics_scheduling", "graphics scheduling", _F, "", _BLOCKS, "whether the card schedules its own work"),
    FactRow("system", "system", _T, "", _BLOCKS, "operating system"),
    FactRow("system_build", "system build", _T, "", _BLOCKS, "its build, or the version of its core"),
    FactRow("mains", "mains", _F, "", _BLOCKS, "whether a PC with a battery runs from the mains"),
    FactRow("busy", "busy programs", _T, "", _NOISE, "programs that used a processor while the snapshot was taken"),
    FactRow("load", "load", _N, "", _NOISE, "waiting and running programs, mean of the last minute"),
    FactRow("host", "name of the PC", _T, "", _NOTE, "name in the network"),
)
FACTS: Final[Mapping[str, FactRow]] = MappingProxyType({row.key: row for row in _ROWS})
