"""The nouns of measuring: a measure (one row of the catalogue) and the numbers of a run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Scale(StrEnum):
    """How values of a measure are compared."""

    LOG = "logarithm"  # as ratios
    DIFFERENCE = "difference"  # as differences: can be zero


class Better(StrEnum):
    HIGHER = "higher"
    LOWER = "lower"


@dataclass(frozen=True, slots=True)
class Measure:
    """One row of the catalogue.

    margin : default smallest difference that matters; a fraction on the log scale, else in `unit`.
    tail_share : the share p of a low, None otherwise. low : its definition (study.model.LowDefinition) where it is one.
    framed : it is computed from frames; else it comes as a number.
    """

    key: str
    label: str
    unit: str
    better: Better
    scale: Scale
    margin: float
    help: str
    source: str
    tail_share: float | None = None
    low: str | None = None
    framed: bool = True


@dataclass(frozen=True, slots=True)
class RunMeasures:
    """The numbers of one run: measure key -> value, NaN where it cannot be stated.

    tail_counts : measure key -> number of frames that decide a low. Under 10 the low of a single run is too short to state:
    the value is kept (judging pools a visit's frames for it) and `too_short` names the measure.
    """

    values: Mapping[str, float]
    tail_counts: Mapping[str, int]
    too_short: tuple[str, ...]
    frames: int
    seconds: float
