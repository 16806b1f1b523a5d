"""Facts from what Linux shows below /sys and /proc (the kernel's Documentation/ABI and Documentation/admin-guide)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from evenhand.bench.model import Value

Told = Iterator[tuple[str, Value | None, str]]

_CPU = "sys/devices/system/cpu"
_VENDORS = {"0x10de": "NVIDIA", "0x1002": "AMD", "0x8086": "Intel"}


def facts(answers: Mapping[str, Any]) -> Told:
    """(key, value, where from) of all that the files tell; None or nothing where they do not."""
    files: Mapping[str, str] = answers.get("files", {})
    if not files:
        return
    yield from _processor(files)
    yield from _clocks(files)
    yield from _firmware(files)
    yield from _graphics(files)
    yield from _system(files)
    busy = answers.get("busy", {}).get("processes", {})
    if busy:
        ordered = sorted(busy.items(), key=lambda item: -item[1])
        yield "busy", ", ".join(f"{name} {share:.2f}" for name, share in ordered[:5]), "proc/*/stat"


def _processor(files: Mapping[str, str]) -> Told:
    info = dict(_pairs(files.get("proc/cpuinfo", "")))
    yield "processor", info.get("model name"), "proc/cpuinfo"
    yield "microcode", info.get("microcode"), "proc/cpuinfo"
    kinds = {p.rsplit("/", 1)[1]: text for p, text in files.items() if p.startswith(f"{_CPU}/vulnerabilities/")}
    bare = sorted(name for name, text in kinds.items() if text.startswith("Vulnerable"))
    if kinds:
        asked = files.get("proc/cmdline", "")
        words = f"off for {', '.join(bare)}" if bare else "all on"
        yield "mitigations", f"{words}{f' ({asked})' if asked else ''}", f"{_CPU}/vulnerabilities"


def _clocks(files: Mapping[str, str]) -> Told:
    yield "governor", _all_of(files, "cpufreq/scaling_governor"), "cpufreq/scaling_governor"
    yield "energy_preference", _all_of(files, "cpufreq/energy_performance_preference"), "cpufreq/energy_performance_preference"
    boost, no_turbo = files.get(f"{_CPU}/cpufreq/boost"), files.get(f"{_CPU}/intel_pstate/no_turbo")
    if no_turbo in ("0", "1"):
        yield "boost", no_turbo == "0", "intel_pstate/no_turbo"
    elif boost in ("0", "1"):
        yield "boost", boost == "1", "cpufreq/boost"
    for path, name in files.items():
        found = re.fullmatch(r"(sys/class/powercap/[^/]+)/constraint_(\d+)_name", path)
        if found and name == "long_term" and files.get(f"{found[1]}/name", "").startswith("package"):
            limit = files.get(f"{found[1]}/constraint_{found[2]}_power_limit_uw", "")
            if limit.isdigit():
                yield "power_limit_w", int(limit) / 1e6, f"{found[1]}/constraint_{found[2]}_power_limit_uw"


def _firmware(files: Mapping[str, str]) -> Told:
    def said(*names: str) -> str:
        return " ".join(text for n in names if (text := files.get(f"sys/class/dmi/id/{n}", "").strip()))

    yield "board", said("board_vendor", "board_name") or said("sys_vendor", "product_name"), "sys/class/dmi/id"
    yield "firmware_version", said("bios_vendor", "bios_version", "bios_date"), "sys/class/dmi/id"


def _graphics(files: Mapping[str, str]) -> Told:
    cards, drivers = [], []
    for path in sorted(files):
        found = re.fullmatch(r"(sys/class/drm/card\d+/device)/vendor", path)
        if found:
            vendor, device = files[path], files.get(f"{found[1]}/device", "")
            cards.append(f"{_VENDORS.get(vendor, vendor)} {device}".strip())
            drivers.append(files.get(f"{found[1]}/driver", ""))
    yield "graphics_card", ", ".join(cards), "sys/class/drm"
    kernel = _kernel(files)
    versions = [files.get(f"sys/module/{d}/version", f"of the kernel, {kernel}") for d in drivers]
    named = [f"{d} {v}" for d, v in zip(drivers, versions, strict=True) if d]
    yield "graphics_driver", ", ".join(named), "sys/module"


def _system(files: Mapping[str, str]) -> Told:
    release = dict(_pairs(files.get("etc/os-release", ""), "="))
    yield "system", release.get("PRETTY_NAME", "").strip('"'), "etc/os-release"
    yield "system_build", _kernel(files), "proc/version"
    total = dict(_pairs(files.get("proc/meminfo", ""))).get("MemTotal", "")
    if total.split(" ")[0].isdigit():
        yield "memory_gb", int(total.split(" ")[0]) / 2**20, "proc/meminfo: what the system may use"
    load = files.get("proc/loadavg", "").split(" ")[0]
    yield "load", float(load) if re.fullmatch(r"\d+\.\d+", load) else None, "proc/loadavg"
    mains = [
        files.get(p.replace("/type", "/online"))
        for p, t in files.items()
        if p.startswith("sys/class/power_supply") and t == "Mains"
    ]
    if any(m in ("0", "1") for m in mains):
        yield "mains", "1" in mains, "sys/class/power_supply"


def _kernel(files: Mapping[str, str]) -> str:
    words = files.get("proc/version", "").split()
    return words[2] if len(words) > 2 else ""


def _all_of(files: Mapping[str, str], name: str) -> str:
    """Distinct values over the processors, most common first."""
    values = [text for path, text in files.items() if path.startswith(f"{_CPU}/cpu") and path.endswith(f"/{name}")]
    return ", ".join(sorted(set(values), key=lambda v: (-values.count(v), v)))


def _pairs(text: str, mark: str = ":") -> Iterator[tuple[str, str]]:
    for line in text.splitlines():
        name, found, value = line.partition(mark)
        if found:
            yield name.strip(), value.strip()
