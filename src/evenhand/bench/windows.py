"""Facts from what Windows answers (registry and calls, as its maker documents them). Not yet tried on a real Windows machine."""

from __future__ import annotations

import base64
import uuid
from collections.abc import Iterator, Mapping
from typing import Any, Final

from evenhand.bench.collect import WINDOWS_DISPLAY
from evenhand.bench.model import Value

Told = Iterator[tuple[str, Value | None, str]]

_PROCESSOR: Final = r"HARDWARE\DESCRIPTION\System\CentralProcessor\0"
_FIRMWARE: Final = r"HARDWARE\DESCRIPTION\System\BIOS"
_VERSION: Final = r"SOFTWARE\Microsoft\Windows NT\CurrentVersion"
_INTEGRITY: Final = r"SYSTEM\CurrentControlSet\Control\DeviceGuard\Scenarios\HypervisorEnforcedCodeIntegrity\Enabled"
_SCHEDULING: Final = r"SYSTEM\CurrentControlSet\Control\GraphicsDrivers\HwSchMode"

#: Power schemes that the system brings along; others are told by their identifier.
_SCHEMES: Final = {
    "381b4222-f694-41f0-9685-ff5bb260df2e": "balanced",
    "8c5e7fda-e8bf-4a96-9a85-a6e23a8c635c": "high performance",
    "a1841308-3541-4fab-bc81-f71556f20b4a": "power saver",
    "e9a42b02-d5df-448d-aa00-03f14749eb61": "ultimate performance",
}
#: The first build that calls itself 11 in everything but its registry.
_ELEVEN: Final = 22000


def facts(answers: Mapping[str, Any]) -> Told:
    """(key, value, where from) of all that the answers tell; nothing where this is no Windows."""
    registry: Mapping[str, Any] = answers.get("registry", {})
    calls: Mapping[str, Any] = answers.get("calls", {})
    if not registry and not calls:
        return
    yield from _processor(registry)
    yield from _machine(registry)
    yield from _graphics(registry)
    yield from _system(registry)
    if calls.get("memory_bytes"):
        yield "memory_gb", calls["memory_bytes"] / 2**30, "GetPhysicallyInstalledSystemMemory"
    if calls.get("power_scheme"):
        scheme = str(uuid.UUID(bytes_le=bytes.fromhex(calls["power_scheme"])))
        yield "power_plan", _SCHEMES.get(scheme, scheme), "PowerGetActiveScheme"
    if calls.get("mains") in (0, 1):
        yield "mains", calls["mains"] == 1, "GetSystemPowerStatus"


def _processor(registry: Mapping[str, Any]) -> Told:
    name = registry.get(f"{_PROCESSOR}\\ProcessorNameString")
    yield "processor", name.strip() if name else None, "registry: CentralProcessor"
    revision = registry.get(f"{_PROCESSOR}\\Update Revision")
    if revision:
        loaded = base64.b64decode(revision)
        yield (
            "microcode",
            f"0x{int.from_bytes(loaded[4:8] if len(loaded) >= 8 else loaded, 'little'):x}",
            "registry: Update Revision",
        )
    mhz = registry.get(f"{_PROCESSOR}\\~MHz")
    yield "max_clock_mhz", float(mhz) if mhz else None, "registry: ~MHz, the base clock"


def _machine(registry: Mapping[str, Any]) -> Told:
    def said(*names: str) -> str:
        return " ".join(str(text).strip() for n in names if (text := registry.get(f"{_FIRMWARE}\\{n}")))

    board = said("BaseBoardManufacturer", "BaseBoardProduct") or said("SystemManufacturer", "SystemProductName")
    yield "board", board, "registry: BIOS"
    yield "firmware_version", said("BIOSVendor", "BIOSVersion", "BIOSReleaseDate"), "registry: BIOS"
    integrity, scheduling = registry.get(_INTEGRITY), registry.get(_SCHEDULING)
    yield "memory_integrity", None if integrity is None else integrity == 1, "registry: HypervisorEnforcedCodeIntegrity"
    yield "graphics_scheduling", None if scheduling is None else scheduling == 2, "registry: HwSchMode"


def _graphics(registry: Mapping[str, Any]) -> Told:
    cards, drivers = [], []
    for number in range(8):
        key = f"{WINDOWS_DISPLAY}\\{number:04d}"
        name = registry.get(f"{key}\\DriverDesc")
        if name:
            cards.append(str(name))
            drivers.append(str(registry.get(f"{key}\\DriverVersion", "")))
    yield "graphics_card", ", ".join(cards), "registry: display adapters"
    yield "graphics_driver", ", ".join(d for d in drivers if d), "registry: display adapters"


def _system(registry: Mapping[str, Any]) -> Told:
    def said(name: str) -> str:
        return str(registry.get(f"{_VERSION}\\{name}", "")).strip()

    build = said("CurrentBuild")
    name = said("ProductName")
    if build.isdigit() and int(build) >= _ELEVEN:
        name = name.replace("Windows 10", "Windows 11")
    yield "system", f"{name} {said('DisplayVersion')}".strip(), "registry: CurrentVersion"
    yield "system_build", f"{build}.{said('UBR')}".strip("."), "registry: CurrentVersion"
