"""Raw answers of PCs, made up byte by byte as the makers' documents lay them out (from memory)."""

from __future__ import annotations

import base64
import re
import struct

from evenhand.bench.collect import FORM, WINDOWS_DISPLAY


def module(size, slot="DIMM_A1", kind=0x22, rated=6400, running=6000, extended=0, length=0x28):
    data = bytearray(length)
    data[0], data[1] = 17, length
    struct.pack_into("<H", data, 0x0C, size)
    data[0x10], data[0x12] = 1, kind
    struct.pack_into("<H", data, 0x15, rated)
    if length >= 0x22:
        struct.pack_into("<I", data, 0x1C, extended)
        struct.pack_into("<H", data, 0x20, running)
    return bytes(data) + slot.encode() + b"\0maker\0\0"


OTHER = bytes([1, 4, 0, 0]) + b"\0\0"
END = bytes([127, 4, 0, 0]) + b"\0\0"


def affinity(mask, group=0):
    return struct.pack("<QH6x", mask, group)


def core(mask, efficiency=0, group=0):
    flags = 1 if mask.bit_count() > 1 else 0
    body = struct.pack("<BB20xH", flags, efficiency, 1) + affinity(mask, group)
    return struct.pack("<II", 0, 8 + len(body)) + body


def package(mask):
    body = struct.pack("<BB20xH", 0, 0, 1) + affinity(mask)
    return struct.pack("<II", 3, 8 + len(body)) + body


def cache(level, mask, groups=1):
    body = struct.pack("<BBHIi18xH", level, 8, 64, 2**20, 0, groups) + affinity(mask)
    return struct.pack("<II", 2, 8 + len(body)) + body


def laptop():
    """Six cores of two threads, class 1; eight small ones, class 0, four to a second-level cache."""
    large = b"".join(core(0b11 << (2 * i), 1) + cache(2, 0b11 << (2 * i)) for i in range(6))
    small = b"".join(core(1 << (12 + i), 0) for i in range(8))
    return large + small + cache(2, 0xF << 12) + cache(2, 0xF << 16) + cache(3, (1 << 20) - 1) + package((1 << 20) - 1)


CPU = "sys/devices/system/cpu"
LINUX = {
    "form": FORM,
    "taken_at": "2026-05-01T10:00:00+00:00",
    "host": "bench",
    "logical_cpus": 4,
    "platform": {"system": "Linux", "release": "6.9", "version": "#1", "processor": ""},
    "files": {
        f"{CPU}/online": "0-3",
        **{f"{CPU}/cpu{n}/topology/core_cpus": f"{0b11 << (2 * (n // 2)):x}" for n in range(4)},
        **{f"{CPU}/cpu{n}/topology/core_id": str(n // 2) for n in range(4)},
        **{f"{CPU}/cpu{n}/cpufreq/cpuinfo_max_freq": "5200000" for n in range(4)},
        **{f"{CPU}/cpu{n}/cpufreq/scaling_governor": "performance" for n in range(4)},
        f"{CPU}/cpufreq/boost": "1",
        f"{CPU}/vulnerabilities/meltdown": "Not affected",
        f"{CPU}/vulnerabilities/spectre_v2": "Vulnerable",
        "proc/cpuinfo": "model name\t: Some Processor 9\nmicrocode\t: 0x2b",
        "proc/cmdline": "mitigations=off",
        "proc/version": "Linux version 6.9.4-arch (builder) #1",
        "proc/meminfo": "MemTotal:       32768000 kB\nMemFree: 1 kB",
        "proc/loadavg": "0.31 0.20 0.10 1/200 999",
        "etc/os-release": 'NAME="A"\nPRETTY_NAME="A Linux 3"',
        "sys/class/dmi/id/board_vendor": "Maker",
        "sys/class/dmi/id/board_name": "Board X",
        "sys/class/dmi/id/bios_version": "1.20",
        "sys/class/dmi/id/bios_date": "04/01/2026",
        "sys/class/powercap/intel-rapl:0/name": "package-0",
        "sys/class/powercap/intel-rapl:0/constraint_0_name": "long_term",
        "sys/class/powercap/intel-rapl:0/constraint_0_power_limit_uw": "125000000",
        "sys/class/power_supply/AC/type": "Mains",
        "sys/class/power_supply/AC/online": "1",
        "sys/class/drm/card0/device/vendor": "0x1002",
        "sys/class/drm/card0/device/device": "0x744c",
        "sys/class/drm/card0/device/driver": "amdgpu",
    },
    "tables": {"sys/firmware/dmi/tables/DMI": base64.b64encode(OTHER + module(16384) * 2 + END).decode()},
    "busy": {"processes": {"updater": 0.4, "indexer": 0.9}},
    "unread": {},
}
CURRENT = r"SOFTWARE\Microsoft\Windows NT\CurrentVersion"
PROCESSOR = r"HARDWARE\DESCRIPTION\System\CentralProcessor\0"
WINDOWS = {
    "form": FORM,
    "taken_at": "2026-05-01T10:00:00+00:00",
    "host": "BENCH",
    "logical_cpus": 20,
    "platform": {"system": "Windows", "release": "10", "version": "10.0.26100"},
    "files": {},
    "registry": {
        f"{PROCESSOR}\\ProcessorNameString": "Some Processor 9   ",
        f"{PROCESSOR}\\Update Revision": base64.b64encode(bytes([0, 0, 0, 0, 0x2B, 1, 0, 0])).decode(),
        f"{CURRENT}\\ProductName": "Windows 10 Pro",
        f"{CURRENT}\\DisplayVersion": "24H2",
        f"{CURRENT}\\CurrentBuild": "26100",
        f"{CURRENT}\\UBR": 4061,
        f"{WINDOWS_DISPLAY}\\0000\\DriverDesc": "Some Card",
        f"{WINDOWS_DISPLAY}\\0000\\DriverVersion": "32.0.15",
        r"SYSTEM\CurrentControlSet\Control\GraphicsDrivers\HwSchMode": 2,
    },
    "calls": {"memory_bytes": 2**35, "power_scheme": "da7f5e8cbfe896 4a9a85a6e23a8c635c".replace(" ", ""), "mains": 1},
    "tables": {
        "processors": base64.b64encode(laptop()).decode(),
        "firmware": base64.b64encode(bytes(8) + module(16384) * 2 + END).decode(),
    },
    "unread": {},
}


def hybrid(seconds=True, small=True, taken_at="2026-05-01T10:00:00+00:00", **files):
    """Answers of a Linux PC with six cores of two threads and eight small ones, as the firmware is set; `files` of /sys by last
    parts of their path. It shows 20, 14, 12 or 6 logical processors.
    """
    threads = 2 if seconds else 1
    cores = [range(threads * i, threads * (i + 1)) for i in range(6)]
    cores += [range(6 * threads + i, 6 * threads + i + 1) for i in range(8 if small else 0)]
    answers = {f"{CPU}/online": f"0-{sum(map(len, cores)) - 1}", "sys/devices/cpu_core/cpus": f"0-{6 * threads - 1}"}
    if small:
        answers["sys/devices/cpu_atom/cpus"] = f"{6 * threads}-{6 * threads + 7}"
    for number, core_ in enumerate(cores):
        for cpu in core_:
            first = 6 * threads + 4 * ((number - 6) // 4)
            module = sum(1 << n for n in (core_ if number < 6 else range(first, first + 4)))
            answers |= {
                f"{CPU}/cpu{cpu}/topology/core_cpus": f"{sum(1 << n for n in core_):x}",
                f"{CPU}/cpu{cpu}/topology/core_id": str(number),
                f"{CPU}/cpu{cpu}/topology/physical_package_id": "0",
                f"{CPU}/cpu{cpu}/cache/index2/level": "2",
                f"{CPU}/cpu{cpu}/cache/index2/shared_cpu_map": f"{module:x}",
                f"{CPU}/cpu{cpu}/cpufreq/cpuinfo_max_freq": "5400000" if number < 6 else "4200000",
            }
    rest = {path: text for path, text in LINUX["files"].items() if not re.match(rf"{CPU}/(cpu\d|online)", path)}
    named = {path: text for path in rest for end, text in files.items() if path.endswith(end)}
    return LINUX | {"taken_at": taken_at, "logical_cpus": 20, "files": rest | answers | named, "busy": {}}
