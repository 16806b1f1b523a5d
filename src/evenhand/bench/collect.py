"""What a PC says of itself, as raw answers in one JSON file. Runs alone, with Python's standard library, from a stick.

    python collect.py [FOLDER]

Nothing is installed, changed or sent; serial numbers are left out. The answers are made sense of later, by the bench room.
"""

from __future__ import annotations

import base64
import json
import os
import platform
import socket
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timezone
from functools import partial
from pathlib import Path
from typing import Any

FORM = "evenhand-snapshot-1"
MOST_BYTES = 65536

#: Files below the root of a Linux system, as patterns.
LINUX_FILES = (
    "sys/devices/system/cpu/online",
    "sys/devices/system/cpu/offline",
    "sys/devices/system/cpu/possible",
    "sys/devices/system/cpu/present",
    "sys/devices/system/cpu/smt/*",
    "sys/devices/system/cpu/cpu[0-9]*/online",
    "sys/devices/system/cpu/cpu[0-9]*/cpu_capacity",
    "sys/devices/system/cpu/cpu[0-9]*/topology/*",
    "sys/devices/system/cpu/cpu[0-9]*/cache/index*/level",
    "sys/devices/system/cpu/cpu[0-9]*/cache/index*/type",
    "sys/devices/system/cpu/cpu[0-9]*/cache/index*/size",
    "sys/devices/system/cpu/cpu[0-9]*/cache/index*/shared_cpu_map",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/base_frequency",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/cpuinfo_max_freq",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/scaling_max_freq",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/scaling_driver",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/scaling_governor",
    "sys/devices/system/cpu/cpu[0-9]*/cpufreq/energy_performance_preference",
    "sys/devices/system/cpu/cpu[0-9]*/acpi_cppc/nominal_perf",
    "sys/devices/system/cpu/cpufreq/boost",
    "sys/devices/system/cpu/intel_pstate/no_turbo",
    "sys/devices/system/cpu/intel_pstate/status",
    "sys/devices/system/cpu/vulnerabilities/*",
    "sys/devices/cpu_core/cpus",
    "sys/devices/cpu_atom/cpus",
    "sys/class/dmi/id/sys_vendor",
    "sys/class/dmi/id/product_name",
    "sys/class/dmi/id/board_vendor",
    "sys/class/dmi/id/board_name",
    "sys/class/dmi/id/bios_vendor",
    "sys/class/dmi/id/bios_version",
    "sys/class/dmi/id/bios_date",
    "sys/class/power_supply/*/type",
    "sys/class/power_supply/*/online",
    "sys/class/powercap/*/name",
    "sys/class/powercap/*/enabled",
    "sys/class/powercap/*/constraint_*_name",
    "sys/class/powercap/*/constraint_*_power_limit_uw",
    "sys/class/drm/card[0-9]/device/vendor",
    "sys/class/drm/card[0-9]/device/device",
    "sys/class/drm/card[0-9]/device/uevent",
    "sys/module/nvidia/version",
    "sys/module/amdgpu/version",
    "proc/version",
    "proc/meminfo",
    "proc/loadavg",
    "etc/os-release",
)
#: Binary files below the root, kept as base64. Mostly readable by an administrator only.
LINUX_TABLES = ("sys/firmware/dmi/tables/DMI",)
#: Lines of proc/cpuinfo that are kept, of the first processor.
CPUINFO = ("vendor_id", "cpu family", "model", "model name", "stepping", "microcode", "CPU implementer", "CPU part")

#: Registry keys below HKEY_LOCAL_MACHINE, and the values that are kept of each.
WINDOWS_KEYS = {
    r"HARDWARE\DESCRIPTION\System\CentralProcessor\0": (
        "ProcessorNameString", "VendorIdentifier", "Identifier", "Update Revision", "~MHz",
    ),
    r"HARDWARE\DESCRIPTION\System\BIOS": (
        "SystemManufacturer", "SystemProductName", "BaseBoardManufacturer", "BaseBoardProduct",
        "BIOSVendor", "BIOSVersion", "BIOSReleaseDate",
    ),
    r"SOFTWARE\Microsoft\Windows NT\CurrentVersion": ("ProductName", "DisplayVersion", "CurrentBuild", "UBR"),
    r"SYSTEM\CurrentControlSet\Control\DeviceGuard\Scenarios\HypervisorEnforcedCodeIntegrity": ("Enabled",),
    r"SYSTEM\CurrentControlSet\Control\GraphicsDrivers": ("HwSchMode",),
}  # fmt: skip
WINDOWS_DISPLAY = r"SYSTEM\CurrentControlSet\Control\Class\{4d36e968-e325-11ce-bfc1-08002be10318}"
WINDOWS_DISPLAY_VALUES = ("DriverDesc", "DriverVersion", "DriverDate", "MatchingDeviceId")
RELATION_ALL = 0xFFFF
FIRMWARE_TABLE = 0x52534D42  # "RSMB": the firmware's own description of the machine (SMBIOS, DMTF DSP0134)

Answers = dict[str, Any]


def collect(root: Path = Path("/"), now: datetime | None = None) -> Answers:
    """Raw answers of this PC. root : where a Linux system's folders begin."""
    at = now or datetime.now(timezone.utc)  # noqa: UP017 - runs on older Pythons too
    found: Answers = {
        "form": FORM,
        "taken_at": at.isoformat(timespec="seconds"),
        "host": socket.gethostname(),
        "platform": {"system": platform.system(), "release": platform.release(), "version": platform.version(),
                     "machine": platform.machine(), "processor": platform.processor(), "python": platform.python_version()},
        "logical_cpus": os.cpu_count(),
        "files": {},
        "tables": {},
        "unread": {},
    }  # fmt: skip
    if (root / "sys/devices/system/cpu").is_dir():
        _linux(root, found)
    if platform.system() == "Windows":
        _windows(found)
    return found


def _linux(root: Path, found: Answers) -> None:
    for pattern in LINUX_FILES:
        for path in sorted(root.glob(pattern)):
            if path.is_file():
                _note(found, "files", path.relative_to(root).as_posix(), partial(_text, path))
    for name in LINUX_TABLES:
        if (root / name).exists():
            _note(found, "tables", name, partial(_bytes, root / name))
    if (root / "proc/cpuinfo").exists():
        _note(found, "files", "proc/cpuinfo", lambda: _cpuinfo(root / "proc/cpuinfo"))
    _note(found, "files", "proc/cmdline", lambda: _mitigations(root / "proc/cmdline"))
    for path in sorted(root.glob("sys/class/drm/card[0-9]/device/driver")):
        _note(found, "files", path.relative_to(root).as_posix(), partial(_target, path))
    _note(found, "busy", "processes", lambda: _busy(root / "proc"))


def _note(found: Answers, kind: str, name: str, read: Callable[[], Any]) -> None:
    """Keep an answer, or why there is none."""
    try:
        answer = read()
    except (OSError, ValueError, AttributeError) as error:
        found["unread"][name] = f"{type(error).__name__}: {getattr(error, 'strerror', None) or error}"
    else:
        found.setdefault(kind, {})[name] = answer


def _text(path: Path) -> str:
    with path.open("rb") as file:
        return file.read(MOST_BYTES).decode("utf-8", "replace").strip("\0\n ")


def _bytes(path: Path) -> str:
    return base64.b64encode(path.read_bytes()).decode("ascii")


def _target(path: Path) -> str:
    return path.resolve().name


def _cpuinfo(path: Path) -> str:
    first = _text(path).split("\n\n")[0].splitlines()
    return "\n".join(line for line in first if line.split(":")[0].strip() in CPUINFO)


def _mitigations(path: Path) -> str:
    """Only what concerns speed; the rest of a command line names disks."""
    return " ".join(word for word in _text(path).split() if word.split("=")[0] in {"mitigations", "nosmt", "maxcpus", "isolcpus"})


def _busy(proc: Path, seconds: float = 0.4) -> dict[str, float]:
    """Name -> share of one processor, of programs that used more than 2 % of one in `seconds`, this one left out."""
    before, began = dict(_ticks(proc)), time.monotonic()
    time.sleep(seconds)
    passed = time.monotonic() - began
    per_second = os.sysconf("SC_CLK_TCK")
    shares: dict[str, float] = {}
    for key, ticks in _ticks(proc):
        share = (ticks - before.get(key, ticks)) / per_second / passed
        if share > 0.02 and key[0] != os.getpid():
            shares[key[1]] = round(shares.get(key[1], 0.0) + share, 2)
    return shares


def _ticks(proc: Path) -> Iterator[tuple[tuple[int, str], int]]:
    """((process, name), processor time so far in clock ticks)."""
    for path in proc.glob("[0-9]*/stat"):
        try:
            text = path.read_text("utf-8", "replace")
        except OSError:
            continue
        name, rest = text[text.index("(") + 1 : text.rindex(")")], text[text.rindex(")") + 2 :].split()
        yield (int(text.split(" ", 1)[0]), name), int(rest[11]) + int(rest[12])


if sys.platform == "win32":
    import ctypes
    import winreg

    def _windows(found: Answers) -> None:
        kernel, power = ctypes.windll.kernel32, ctypes.windll.powrprof
        for key, names in WINDOWS_KEYS.items():
            _registry(found, key, names)
        for number in range(8):
            _registry(found, f"{WINDOWS_DISPLAY}\\{number:04d}", WINDOWS_DISPLAY_VALUES)
        _note(found, "tables", "processors", lambda: _processors(kernel))
        _note(found, "tables", "firmware", lambda: _firmware(kernel))
        _note(found, "calls", "memory_bytes", lambda: _memory(kernel))
        _note(found, "calls", "power_scheme", lambda: _scheme(power))
        _note(found, "calls", "mains", lambda: _mains(kernel))

    def _registry(found: Answers, key: str, names: tuple[str, ...]) -> None:
        try:
            with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, key) as opened:
                for name in names:
                    _note(found, "registry", f"{key}\\{name}", partial(_value, opened, name))
        except OSError as error:
            found["unread"][key] = str(error)

    def _value(key: Any, name: str) -> Any:
        value = winreg.QueryValueEx(key, name)[0]
        return base64.b64encode(value).decode("ascii") if isinstance(value, bytes) else value

    def _processors(kernel: Any) -> str:
        """GetLogicalProcessorInformationEx of all relations, as it comes."""
        size = ctypes.c_ulong(0)
        kernel.GetLogicalProcessorInformationEx(RELATION_ALL, None, ctypes.byref(size))
        buffer = ctypes.create_string_buffer(size.value)
        if not kernel.GetLogicalProcessorInformationEx(RELATION_ALL, buffer, ctypes.byref(size)):
            raise ctypes.WinError()
        return base64.b64encode(buffer.raw[: size.value]).decode("ascii")

    def _firmware(kernel: Any) -> str:
        size = kernel.GetSystemFirmwareTable(FIRMWARE_TABLE, 0, None, 0)
        buffer = ctypes.create_string_buffer(size)
        if not kernel.GetSystemFirmwareTable(FIRMWARE_TABLE, 0, buffer, size):
            raise ctypes.WinError()
        return base64.b64encode(buffer.raw).decode("ascii")

    def _memory(kernel: Any) -> int:
        kilobytes = ctypes.c_ulonglong(0)
        if not kernel.GetPhysicallyInstalledSystemMemory(ctypes.byref(kilobytes)):
            raise ctypes.WinError()
        return kilobytes.value * 1024

    def _scheme(power: Any) -> str:
        """The active power scheme's identifier, as 32 hexadecimal digits of its bytes."""
        pointer = ctypes.c_void_p()
        status = power.PowerGetActiveScheme(None, ctypes.byref(pointer))
        if status:
            raise ctypes.WinError(status)
        return ctypes.string_at(pointer, 16).hex()

    def _mains(kernel: Any) -> int:
        """SYSTEM_POWER_STATUS.ACLineStatus: 0 = battery, 1 = mains, 255 = unknown."""
        buffer = ctypes.create_string_buffer(12)
        if not kernel.GetSystemPowerStatus(buffer):
            raise ctypes.WinError()
        return buffer.raw[0]

else:

    def _windows(found: Answers) -> None:
        found["unread"]["windows"] = "this is no Windows"


def main() -> None:
    """Write the answers beside this file, or into the folder that is named."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
    answers = collect()
    stamp = "".join(c for c in str(answers["taken_at"])[:19] if c.isdigit() or c == "T")
    path = folder / f"snapshot-{answers['host']}-{stamp}.json"
    path.write_text(json.dumps(answers, indent=1, sort_keys=True), encoding="utf-8")
    print(f"Wrote {path}")


if __name__ == "__main__":
    main()
