"""The nouns of screening: what a check looks at, what it found, what is proposed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from evenhand.frames.model import Cut, Frames
from evenhand.study.model import RunKey, Scene


class Standing(StrEnum):
    """What was decided about a run."""

    KEPT = "kept"
    SET_ASIDE = "set aside"
    REDO = "to redo"


class Weight(StrEnum):
    """How much a flag says."""

    DOUBTFUL = "doubtful"  # proposes a standing other than kept
    NOTE = "note"  # worth knowing; proposes nothing


@dataclass(frozen=True, slots=True)
class Check:
    """One row of the catalogue of checks. `threshold` is the default, `why` says where it comes from."""

    slug: str
    label: str
    looks_for: str
    threshold: float
    why: str
    advice: str


@dataclass(frozen=True, slots=True, eq=False)
class ScreenedRun:
    """One run as the checks see it. `position` is its place in time over the whole study (None if unknown);
    `sha256` of the log's bytes.
    """

    key: RunKey
    scene: Scene
    whole: Frames
    cut: Cut
    sha256: str
    position: float | None = None
    bad_rows: int = 0


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing a check found.

    reasons : slugs of checks, likeliest first; the first is `check`. evidence : named numbers. stretch_s : from-to seconds in
    the counted frames. sentence : what was found, in words without setup names (blind mode shows it as it is).
    covers : for a note about several runs (a scene, a day), all of them; `run` is then the first.
    """

    run: RunKey
    check: str
    weight: Weight
    reasons: tuple[str, ...]
    sentence: str
    advice: str
    proposes: Standing
    evidence: Mapping[str, float] = field(default_factory=dict)
    stretch_s: tuple[float, float] | None = None
    covers: tuple[RunKey, ...] = ()


@dataclass(frozen=True, slots=True)
class Screening:
    """All flags of a set of runs, in the order of the runs; `untold` says what the checks could not tell and why."""

    flags: tuple[Flag, ...]
    runs: int
    untold: tuple[str, ...] = ()

    def of(self, run: RunKey) -> tuple[Flag, ...]:
        """Flags of one run."""
        return tuple(f for f in self.flags if f.run == run)

    def doubtful(self) -> tuple[RunKey, ...]:
        """Runs with at least one doubtful flag, each once."""
        return tuple(dict.fromkeys(f.run for f in self.flags if f.weight is Weight.DOUBTFUL))
