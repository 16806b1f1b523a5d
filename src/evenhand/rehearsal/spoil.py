"""Spoil good runs in known ways, to count how often screening finds what was done to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from evenhand.frames.model import Cut, Frames, Nanoseconds
from evenhand.screening.model import ScreenedRun

#: Takes the frames of the scene and a generator, gives the spoiled frames; all shapes (n,), nanoseconds.
Spoiler: TypeAlias = Callable[[Nanoseconds, np.random.Generator], Nanoseconds]


@dataclass(frozen=True, slots=True)
class Kind:
    """A way to spoil a run. right : checks that count as the right reason when they come first. spoil : None where another
    run is put in the place of the run (`other scene`, `other setup`).
    """

    name: str
    right: tuple[str, ...]
    spoil: Spoiler | None = None


def _whole(ns: ArrayLike) -> Nanoseconds:
    return np.asarray(np.rint(ns), dtype=np.int64)


def _cut_off(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    return np.asarray(ns[: max(2, int(ns.size * rng.uniform(0.3, 0.9)))])


def _stall(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    out = ns.copy()
    out[rng.integers(ns.size // 20, ns.size)] += int(rng.uniform(150e6, 600e6))
    return out


def _cap(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    """Frames wait for a cap at 50 to 85 % of the run's usual rate, held to half a per cent."""
    least = np.median(ns) / rng.uniform(0.5, 0.85)
    held = np.maximum(ns, least * (1 + 0.005 * np.abs(rng.standard_normal(ns.size))))
    return _whole(held)


def _slower_part(factor: float) -> Spoiler:
    def spoil(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
        length = int(ns.size * rng.uniform(0.2, 0.5))
        begin = int(rng.integers(0, ns.size - length))
        out = ns.astype(np.float64)
        out[begin : begin + length] *= factor
        return _whole(out)

    return spoil


def _slower_throughout(factor: float) -> Spoiler:
    def spoil(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
        return _whole(ns * factor)

    return spoil


def _time_slices(ns: Nanoseconds, rng: np.random.Generator) -> Nanoseconds:
    """Another program takes the processor by turns: half of the frames, at random, wait for one to three usual frames."""
    waits = rng.random(ns.size) < 0.5
    wait = np.median(ns) * rng.uniform(1, 3, ns.size)
    return _whole(ns + waits * wait)


OTHER_SCENE: Final = Kind("another scene", ("other-content",))
OTHER_SETUP: Final = Kind("another setup", ("wrong-setup",))

KINDS: Final[tuple[Kind, ...]] = (
    Kind("cut off, 10 to 70 % missing", ("too-short",), _cut_off),
    OTHER_SCENE,
    Kind("capped at 50 to 85 % of the usual rate", ("capped",), _cap),
    Kind("stopped once, 150 to 600 ms", ("lone-stall",), _stall),
    Kind("load in part, frames 30 % longer", ("busy-machine",), _slower_part(1.3)),
    Kind("load in part, frames 60 % longer", ("busy-machine",), _slower_part(1.6)),
    Kind("load in part, frames twice as long", ("busy-machine",), _slower_part(2.0)),
    Kind("load throughout, by time slices", ("busy-machine",), _time_slices),
    Kind("evenly slower throughout, 30 %", ("odd-run", "busy-machine", "first-run"), _slower_throughout(1.3)),
    Kind("evenly slower throughout, twofold", ("odd-run", "busy-machine", "first-run"), _slower_throughout(2.0)),
    OTHER_SETUP,
)


def spoiled(run: ScreenedRun, spoil: Spoiler, rng: np.random.Generator) -> ScreenedRun:
    """The run with its scene's frames spoiled; nothing before the scene is touched."""
    return with_frames(run, spoil(run.cut.counted.ns, rng), run)


def in_place_of(claimed: ScreenedRun, played: ScreenedRun, level: bool) -> ScreenedRun:
    """The frames of `played` under the label of `claimed`, cut as that scene is cut (in frames).

    level : True brings the other frames to the claimed run's usual rate, so that only what they show gives them away.
    """
    ns = played.cut.counted.ns
    if level:
        ns = _whole(ns * (np.median(claimed.cut.counted.ns) / np.median(ns)))
    return with_frames(claimed, ns[: claimed.cut.counted.ns.size], claimed)


def with_frames(run: ScreenedRun, ns: Nanoseconds, claimed: ScreenedRun) -> ScreenedRun:
    """The run with other counted frames; the share missing is counted against `claimed`."""
    lead = run.whole.ns[: run.cut.first]
    whole = Frames(np.concatenate([lead, ns]))
    missing = max(claimed.cut.missing, 1 - ns.size / claimed.cut.counted.ns.size)
    cut = Cut(Frames(ns), run.cut.first, run.cut.first + ns.size, run.cut.start, run.cut.lag_s, missing)
    return replace(run, whole=whole, cut=cut, sha256=f"{run.sha256}-spoiled")
