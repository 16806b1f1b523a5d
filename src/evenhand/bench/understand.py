"""From raw answers to a snapshot: what `collect` wrote on this PC or another, made into facts. What is not there stays unread."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Mapping
from typing import Any, Final

from evenhand.bench import linux, windows
from evenhand.bench.catalogue import FACTS, typed_value
from evenhand.bench.collect import FORM
from evenhand.bench.firmware_table import memory_modules
from evenhand.bench.model import Fact, Kind, Origin, Snapshot, Topology, Value
from evenhand.bench.topology import linux_topology
from evenhand.bench.windows_processors import windows_topology
from evenhand.errors import BenchError, Problem

Answers = Mapping[str, Any]
Told = Iterator[tuple[str, Value | None, str]]

_GIB: Final = 2**30


def snapshot(answers: Answers, version: str = "", typed: Mapping[str, str] | None = None) -> Snapshot:
    """A snapshot of raw answers. typed : facts as a person states them, fact -> text; they fill in what could not be read.

    Raises BenchError where the answers are none of ours.
    """
    if answers.get("form") != FORM or "taken_at" not in answers:
        what = f"it says {answers.get('form')!r} where a snapshot says {FORM!r}"
        raise BenchError(
            Problem("not-a-snapshot", what, do="Take it with `evenhand inspect`, or with the script that it writes.")
        )
    topology = _topology(answers)
    facts: dict[str, Fact] = {}
    for source in (_processors(topology), _memory(answers), linux.facts(answers), windows.facts(answers), _general(answers)):
        for key, value, where in source:
            if key not in facts and value not in (None, ""):
                facts[key] = Fact(key, value, Origin.READ, where)
    for key, value in typed_in(typed or {}).items():
        facts.setdefault(key, Fact(key, value, Origin.TYPED, "study.toml"))
    unread = {key: _why(key, answers) for key in FACTS if key not in facts}
    return Snapshot(str(answers["taken_at"]), _machine(answers, facts), facts, topology, unread, version)


def typed_in(typed: Mapping[str, str]) -> dict[str, Value]:
    """The facts of the catalogue among what a person stated; other remarks are left out."""
    values = {key: typed_value(key, text) for key, text in typed.items() if key in FACTS}
    return {key: value for key, value in values.items() if value is not None}


def _topology(answers: Answers) -> Topology:
    files = answers.get("files", {})
    table = answers.get("tables", {}).get("processors")
    if table is not None:
        return windows_topology(base64.b64decode(table))
    return linux_topology(files)


def _processors(topology: Topology) -> Told:
    if not topology.online:
        return
    threads, large = topology.threads(), topology.cores(Kind.PERFORMANCE)
    small = topology.cores(Kind.EFFICIENCY)
    where = topology.kind_from or "list of processors"
    yield "logical_cpus", len(topology.online), "list of processors"
    yield "physical_cores", topology.cores(), "list of processors"
    yield "threads_per_core", max(threads), "list of processors"
    yield "performance_cores", large or topology.cores() - small, where
    yield "efficiency_cores", small, where
    clocks = [c.max_mhz for c in topology.online if c.max_mhz]
    yield "max_clock_mhz", max(clocks, default=None), "cpufreq/cpuinfo_max_freq"


def _memory(answers: Answers) -> Told:
    """From the firmware's table, where this PC let us read it. Modules that run at unlike rates all run at the lowest."""
    tables = answers.get("tables", {})
    name = next((n for n in ("firmware", "sys/firmware/dmi/tables/DMI") if n in tables), None)
    if name is None:
        return
    table = base64.b64decode(tables[name])
    modules = memory_modules(table[8:] if name == "firmware" else table)
    if not modules:
        return
    yield "memory_modules", len(modules), "firmware table"
    yield "memory_kind", " and ".join(dict.fromkeys(m.kind for m in modules if m.kind)), "firmware table"
    yield "memory_mts", min((m.mts for m in modules if m.mts), default=None), "firmware table"
    yield "memory_gb", sum(m.size_bytes for m in modules) / _GIB, "firmware table"


def _general(answers: Answers) -> Told:
    """What Python knows on any system."""
    said = answers.get("platform", {})
    yield "logical_cpus", answers.get("logical_cpus"), "os.cpu_count()"
    yield "processor", said.get("processor"), "platform.processor()"
    yield "system", f"{said.get('system', '')} {said.get('release', '')}".strip(), "platform"
    yield "system_build", said.get("version"), "platform.version()"
    yield "host", answers.get("host"), "network name"


def _why(key: str, answers: Answers) -> str:
    """Why a fact is not known, in words."""
    for name, needed in _NEEDS.items():
        if key in needed:
            for path, error in answers.get("unread", {}).items():
                if path.startswith(name):
                    return f"{path}: {error}"
    return "this PC does not say"


_NEEDS: Final = {
    "sys/firmware/dmi": ("memory_mts", "memory_modules", "memory_kind"),
    "sys/class/powercap": ("power_limit_w",),
    "sys/class/dmi": ("board", "firmware_version"),
}


def _machine(answers: Answers, facts: Mapping[str, Fact]) -> str:
    """Tells machines apart without a serial number: a digest of network name and board."""
    board = facts["board"].value if "board" in facts else ""
    return hashlib.sha256(f"{answers.get('host', '')}\n{board}".encode()).hexdigest()[:12]
