"""What is said of a log that arrived: one line, the most important word first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evenhand.screening.model import Flag, Weight
from evenhand.units import number
from evenhand.wording import plain

SPOILED: Final[dict[str, str]] = {
    "same-log": "the very log of another run",
    "bad-rows": "rows that are no frames",
    "clock-trouble": "clock trouble",
    "too-short": "too short",
    "lone-stall": "stopped once",
    "other-content": "shows something else",
    "busy-machine": "something else was at work",
}
#: Checks that speak at once. The others compare whole visits: `evenhand screen` has them.
AT_ONCE: Final = frozenset({*SPOILED, "capped"})


@dataclass(frozen=True, slots=True)
class Landed:
    """A log that became a run. place : its scene as people call it; filled, planned : runs of it in this visit.

    average, low : frames per second; None where the log does not tell. instead : the scene that it was thought to be.
    complete : the visit now has all its runs.
    """

    place: str
    setup: str
    filled: int
    planned: int
    average: float
    low: float | None
    instead: str | None = None
    spoiled: Flag | None = None
    cautions: tuple[str, ...] = ()
    warm_up: bool = False
    complete: bool = False


def spoiled(flags: Sequence[Flag]) -> Flag | None:
    """The flag for which a run is to be recorded again at once; None where there is none."""
    return next((f for f in flags if f.weight is Weight.DOUBTFUL and f.check in AT_ONCE), None)


def cautions(flags: Sequence[Flag]) -> tuple[str, ...]:
    """What is worth knowing at once of a run that is kept."""
    said = []
    for flag in flags:
        if flag.check == "capped" and flag.weight is Weight.NOTE:
            said.append(f"held at {flag.evidence['cap']:.0f}")
        elif flag.check == "wrong-setup" and flag.weight is Weight.DOUBTFUL:
            said.append("runs like another setup: check it")
    return tuple(said)


def landed(found: Landed) -> str:
    """`kept, 3 of 4 · Harbour Lights · lean · 143.2 fps, low 96`."""
    low = "" if found.low is None else f", low {number(found.low, 0)}"
    what = [found.place, found.setup, f"{number(found.average, 1)} fps{low}"]
    if found.spoiled:
        head = f"{reason(found.spoiled)}: redo this one"
    elif found.warm_up:
        head = f"warm-up, {found.filled} of {found.planned}"
    else:
        head = f"kept, {found.filled} of {found.planned}"
    if found.instead:
        head = f"looks like {found.place}, not {found.instead}: {head}"
        what = what[1:]
    end = ("visit complete",) if found.complete else ()
    return plain(" · ".join([head, *what, *found.cautions, *end]), 400)


def reason(flag: Flag) -> str:
    """A doubt in a few words."""
    if flag.check == "capped":
        return f"capped at {flag.evidence['cap']:.0f}"
    if flag.check == "too-short" and "missing" in flag.evidence:
        return f"too short, {number(100 * flag.evidence['missing'], 0)} % missing"
    return SPOILED[flag.check]


def unmatched(name: str, why: str) -> str:
    """A log of which it is not known which run it is."""
    return plain(f"kept aside: {why} · {name}", 400)


def refused(name: str, why: str) -> str:
    """A file that cannot be read as a log."""
    return plain(f"not taken: {why} · {name}", 400)


def snapshot(name: str) -> str:
    """A snapshot of the PC that was put into the inbox."""
    return plain(f"snapshot of the PC taken in · {name}", 400)


def already(run: str, name: str) -> str:
    """A file whose very log is in the book."""
    return plain(f"there already: {run} · {name}", 400)
