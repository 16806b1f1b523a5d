"""Every fact of a PC that a snapshot may hold, in one table: what it means, and how much a change of it matters."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Final

from evenhand.bench.model import Grade, Value
from evenhand.units import number


class Sort(Enum):
    """What a fact's value is."""

    TEXT = "text"
    NUMBER = "a number"
    FLAG = "true or false"


class Group(Enum):
    """What a fact is about; in the order in which a snapshot is told."""

    PROCESSOR = "Processor"
    MEMORY = "Memory"
    BOARD = "Board and firmware"
    GRAPHICS = "Graphics"
    SYSTEM = "System"
    POWER = "Power and clocks"
    BESIDE = "What runs beside"


@dataclass(frozen=True, slots=True)
class FactRow:
    """One fact. unit : of a number, "" for none. grade : of a change that no factor explains. near : numbers that differ by no
    more than this share are the same.
    """

    key: str
    group: Group
    label: str
    sort: Sort
    unit: str
    grade: Grade
    help: str
    near: float = 0.0


_T, _N, _F = Sort.TEXT, Sort.NUMBER, Sort.FLAG
_BLOCKS, _NOTE, _NOISE = Grade.BLOCKS, Grade.NOTE, Grade.NOISE
_CPU, _MEMORY, _BOARD, _GRAPHICS, _SYSTEM, _POWER, _BESIDE = Group

_ROWS: Final = (
    FactRow("processor", _CPU, "processor", _T, "", _BLOCKS, "name that the processor gives itself"),
    FactRow("microcode", _CPU, "microcode", _T, "", _BLOCKS, "revision that is loaded; firmware and systems bring new ones"),
    FactRow("logical_cpus", _CPU, "logical processors", _N, "", _BLOCKS, "processors that the system may use"),
    FactRow("physical_cores", _CPU, "cores", _N, "", _BLOCKS, "cores with at least one processor switched on"),
    FactRow("performance_cores", _CPU, "performance cores", _N, "", _BLOCKS, "large cores where there are two kinds, else all"),
    FactRow("efficiency_cores", _CPU, "efficiency cores", _N, "", _BLOCKS, "small cores where there are two kinds, else 0"),
    FactRow("threads_per_core", _CPU, "threads per core", _N, "", _BLOCKS, "most processors that one core shows"),
    FactRow("max_clock_mhz", _CPU, "highest clock", _N, "MHz", _BLOCKS, "highest clock that any core may reach", 0.005),
    FactRow("boost", _POWER, "boost", _F, "", _BLOCKS, "whether clocks may go above the base clock"),
    FactRow("governor", _POWER, "governor", _T, "", _BLOCKS, "how the system chooses clocks"),
    FactRow(
        "energy_preference",
        _POWER,
        "energy preference",
        _T,
        "",
        _BLOCKS,
        "hint of speed against power",
    ),
    FactRow("power_plan", _POWER, "power plan", _T, "", _BLOCKS, "the system's power plan"),
    FactRow("power_limit_w", _POWER, "power limit", _N, "W", _BLOCKS, "sustained limit of the processor's power", 0.005),
    FactRow("mitigations", _SYSTEM, "mitigations", _T, "", _BLOCKS, "measures against leaks of the processor"),
    FactRow("memory_integrity", _SYSTEM, "memory integrity", _F, "", _BLOCKS, "whether a virtual machine guards the core"),
    FactRow("memory_gb", _MEMORY, "memory", _N, "GB", _BLOCKS, "memory in all, in units of 2³⁰ bytes", 0.02),
    FactRow("memory_modules", _MEMORY, "memory modules", _N, "", _BLOCKS, "slots that are filled"),
    FactRow("memory_kind", _MEMORY, "kind of memory", _T, "", _BLOCKS, "DDR4, DDR5 ..."),
    FactRow("memory_mts", _MEMORY, "memory rate", _N, "MT/s", _BLOCKS, "million transfers a second, as the modules run", 0.005),
    FactRow("memory_timings", _MEMORY, "memory timings", _T, "", _BLOCKS, "as a person typed them in: no system states them"),
    FactRow("board", _BOARD, "board", _T, "", _BLOCKS, "maker and name of the board, or of the whole PC"),
    FactRow("firmware_version", _BOARD, "firmware", _T, "", _BLOCKS, "version and date of the board's firmware"),
    FactRow("graphics_card", _GRAPHICS, "graphics card", _T, "", _BLOCKS, "what draws the frames"),
    FactRow("graphics_driver", _GRAPHICS, "graphics driver", _T, "", _BLOCKS, "its version"),
    FactRow("graphics_scheduling", _GRAPHICS, "graphics scheduling", _F, "", _BLOCKS, "whether the card schedules its own work"),
    FactRow("system", _SYSTEM, "system", _T, "", _BLOCKS, "operating system"),
    FactRow("system_build", _SYSTEM, "system build", _T, "", _BLOCKS, "its build, or the version of its core"),
    FactRow("mains", _POWER, "mains", _F, "", _BLOCKS, "whether a PC with a battery runs from the mains"),
    FactRow("busy", _BESIDE, "busy programs (processors used)", _T, "", _NOISE, "while the snapshot was taken"),
    FactRow("load", _BESIDE, "load", _N, "", _NOISE, "waiting and running programs, mean of the last minute"),
    FactRow("host", _SYSTEM, "name of the PC", _T, "", _NOTE, "name in the network"),
)
FACTS: Final[Mapping[str, FactRow]] = MappingProxyType({row.key: row for row in _ROWS})

#: Facts that change together: a level that expects one of them changes the others as well.
TOGETHER: Final[tuple[frozenset[str], ...]] = (
    frozenset({"logical_cpus", "physical_cores", "performance_cores", "efficiency_cores", "threads_per_core"}),
)
_ON, _OFF = ("on", "true", "yes"), ("off", "false", "no")


def with_company(keys: Iterable[str]) -> frozenset[str]:
    """The facts, and those that change together with one of them."""
    named = frozenset(keys)
    return named.union(*(group for group in TOGETHER if group & named))


def label(key: str) -> str:
    """A fact's name for people."""
    return FACTS[key].label if key in FACTS else key


def shown(key: str, value: Value | None) -> str:
    """A value in words: `5200 MT/s`, `on`, `20`."""
    if value is None:
        return "not readable"
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, str):
        return value
    unit = FACTS[key].unit if key in FACTS else ""
    return f"{number(float(value), 0 if float(value).is_integer() else 1)} {unit}".strip()


def same(key: str, one: Value, other: Value) -> bool:
    """Whether two values of a fact are the same: numbers within the fact's nearness, texts whatever their case and blanks."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, str) or isinstance(other, str):
        return " ".join(str(one).lower().split()) == " ".join(str(other).lower().split())
    near = FACTS[key].near if key in FACTS else 0.0
    return abs(one - other) <= near * max(abs(one), abs(other))


def typed_value(key: str, text: str) -> Value | None:
    """What a person typed in, as the fact's sort asks: a number may have its unit behind it. None where it is no such thing."""
    row, said = FACTS[key], " ".join(text.split())
    if row.sort is Sort.TEXT:
        return said or None
    if row.sort is Sort.FLAG:
        return True if said.lower() in _ON else False if said.lower() in _OFF else None
    try:
        return float(said.removesuffix(row.unit).strip())
    except ValueError:
        return None
