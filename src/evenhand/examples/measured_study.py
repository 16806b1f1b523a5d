"""The studies that the two measured campaigns answer, and the facts of how they were recorded."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final

from evenhand.examples.measured import measured_files
from evenhand.study.model import Factor, IntervalMeaning, Level, Pace, Protocol, RunKey, Scene, Setup, Study, Title

#: Which run a log is, from its path in a campaign's folder.
PATTERN: Final = "{scene}/{setup}-v{visit}-r{run}"
#: Checks whose doubt takes a run out, as the study states beforehand. On a noisy machine the others need a person's eye.
SET_ASIDE: Final = ("same-log", "too-short", "other-content", "capped")


@dataclass(frozen=True, slots=True)
class _Campaign:
    """What differs between the two campaigns. cores : low and high level. scenes : name -> label, settings."""

    cores: tuple[int, int]
    scenes: Mapping[str, tuple[str, str]]
    bench: Mapping[str, str]
    recording: tuple[str, ...]


_RECORDING: Final = (
    "The game played demos that its free game data bring along, as fast as it could, one frame a step, without sound, on a "
    "virtual screen.",
    "A small library loaded into the game stored the monotonic clock after each finished frame; an interval is the time since "
    "the frame before it. The logs were written from these times, each scene in a made-up text format; nothing but rounding was "
    "changed.",
    "Twelve visits in the order A B C D, D C B A, B D A C: three rounds. In a visit every scene was played once in an order "
    "shuffled for the visit, then every scene again. The setup (processor affinity and one environment variable) was applied "
    "anew for every run, so a visit here is a block of time under one setup.",
    "Renderer threads stand where an experiment with second hardware threads would have them: the machine shows none. "
    "The renderer draws on the processor.",
)

_CAMPAIGNS: Final[Mapping[str, _Campaign]] = {
    "campaign": _Campaign(
        cores=(2, 6),
        scenes={
            "hangar": ("Hangar", "OpenGL drawn by the processor, 320×240, 1,400 steps"),
            "keep": ("Keep", "the game's own one-thread renderer, plain X11 image, 800×600, 2,200 steps"),
            "works": ("Works", "OpenGL drawn by the processor, 400×300, 1,100 steps, screen melt at the start"),
            "quarry": ("Quarry", "OpenGL drawn by the processor, 640×480, 600 steps"),
        },
        bench={
            "Machine": "virtual machine, 16 CPUs of an Intel Xeon (family 6, model 207), one thread a core",
            "Hypervisor": "KVM, host shared with other virtual machines; steal time high in the early visits, low in the last",
            "Memory": "125 GiB",
            "Clock": "TSC; no frequency control visible",
            "System": "Ubuntu 24.04, the game and its libraries from Debian 12",
            "Game": "dsda-doom 0.25.6 with Freedoom 0.12.1",
            "Graphics": "Mesa 22.3.6 llvmpipe (LLVM 15.0.6), Xvfb 21.1.7, SDL 2.26.5",
            "CPUs of the game": "0–1 or 0–5; virtual screen on 14–15, the starting program on 13",
            "Recorded": "2026-11-24, 22:32 to 22:58 UTC, in one go, with two short pauses",
        },
        recording=(
            *_RECORDING,
            "The machine was noisy, and none of the noise was added: two runs of a visit differ by 6 to 13 % in their average "
            "(coefficient of variation), visits of one setup by 8 to 15 %, and the scenes of one visit move together.",
        ),
    ),
    "quiet": _Campaign(
        cores=(1, 2),
        scenes={
            "orchard": ("Orchard", "OpenGL drawn by the processor, 320×240"),
            "mill": ("Mill", "the game's own one-thread renderer, shown through OpenGL, 640×480"),
            "yard": ("Yard", "OpenGL drawn by the processor, 240×180"),
        },
        bench={
            "Machine": "virtual machine, 2 CPUs of an AMD EPYC (family 25, model 17), one thread a core",
            "Hypervisor": "KVM; hardly any steal time",
            "Memory": "24 GiB",
            "System": "Debian 12",
            "Game": "dsda-doom 0.25.6 with Freedoom 0.12.1",
            "Graphics": "Mesa 22.3.6 llvmpipe, Xvfb on CPU 0",
            "CPUs of the game": "1 or 0–1",
            "Recorded": "2026-11-24, 23:07 to 23:24 UTC, in one go",
        },
        recording=(
            *_RECORDING,
            "None of the noise was added: two runs of a visit differ by 5 to 9 % in their average, visits of one setup by "
            "4 to 7 %, hardly more than their runs explain.",
        ),
    ),
}


def measured_study(campaign: str) -> Study:
    """The study of a campaign: renderer threads × cores, each scene a title. KeyError for a name not in `CAMPAIGNS`."""
    facts = _CAMPAIGNS[campaign]
    few, many = facts.cores
    threads = Factor("renderer_threads", "renderer threads", (Level("one", "one thread"), Level("all", "a thread per core")))
    cores = Factor("cores", "cores", tuple(Level(str(n), _cores(n), float(n)) for n in facts.cores))
    setups = tuple(
        Setup(name, f"{label} on {_cores(count)}", {"renderer_threads": level, "cores": str(count)})
        for name, level, label, count in (
            ("A", "one", "one thread", few),
            ("B", "all", "a thread per core", few),
            ("C", "one", "one thread", many),
            ("D", "all", "a thread per core", many),
        )
    )
    return Study(
        question="Does this game run faster with more renderer threads, with more cores, or only with both?",
        baseline="A",
        setups=setups,
        titles=tuple(_title(name, *texts) for name, texts in facts.scenes.items()),
        factors=(threads, cores),
        interval=IntervalMeaning.PRESENT,
        bench=facts.bench,
        protocol=Protocol(visits=3, runs=2, set_aside=SET_ASIDE, notes=" ".join(facts.recording)),
    )


def _cores(count: int) -> str:
    return "1 core" if count == 1 else f"{count} cores"


def _title(name: str, label: str, settings: str) -> Title:
    return Title(name, label, (Scene(name, label, pace=Pace.FRAMES, settings=settings),))


def recording_facts(campaign: str) -> tuple[str, ...]:
    """How a campaign was recorded, a paragraph each. KeyError for an unknown campaign."""
    return _CAMPAIGNS[campaign].recording


def recorded_at(campaign: str) -> dict[RunKey, str]:
    """When each run began, ISO 8601 UTC, in order of recording. KeyError for an unknown campaign."""
    table = dict(measured_files(campaign))[PurePosixPath("runs.csv")].decode("utf-8")
    rows = sorted(csv.DictReader(io.StringIO(table)), key=lambda row: int(row["order"]))
    return {
        RunKey(row["scene"], row["scene"], row["setup"], int(row["visit"]), int(row["run"])): row["started_utc"] for row in rows
    }
