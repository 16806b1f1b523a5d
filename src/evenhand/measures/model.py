"""The nouns of measuring: a measure (one row of the catalogue) and the numbers of a run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from evenhand.frames.model import Sensor


class Scale(StrEnum):
    """How values of a measure are compared."""

    LOG = "logarithm"  # as ratios
    DIFFERENCE = "difference"  # as differences: can be zero


class Better(StrEnum):
    HIGHER = "higher"
    LOWER = "lower"


class Origin(StrEnum):
    """What a measure comes from."""

    FRAMES = "frames"
    STATED = "a result without frames"
    SENSORS = "a sensor log"


@dataclass(frozen=True, slots=True)
class Measure:
    """One row of the catalogue.

    margin : default smallest difference that matters; a fraction on the log scale, else in `unit`.
    tail_share : the share p of a low, None otherwise. low : its definition (study.model.LowDefinition) where it is one.
    origin : what it comes from.
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
    origin: Origin = Origin.FRAMES

    @property
    def framed(self) -> bool:
        """Whether a run's frames alone give it."""
        return self.origin is Origin.FRAMES


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


@dataclass(frozen=True, slots=True)
class RunSensors:
    """What sensors said while a run's counted frames were drawn; None where no such column was logged, or it has a gap.

    power : mean, watts. energy : joules a frame. ranges : sensor -> (least, most). load, graphics_load : means, per cent.
    throttled : by what share the clock was lower while the temperature was highest and the load stayed.
    how : how the log was lined up with the frames. unsure_s : how far that may be off, seconds.
    """

    how: str
    unsure_s: float
    power: float | None = None
    energy: float | None = None
    load: float | None = None
    graphics_load: float | None = None
    ranges: Mapping[Sensor, tuple[float, float]] = field(default_factory=dict)
    throttled: float | None = None

    @property
    def frames_per_joule(self) -> float | None:
        """The reciprocal of the energy of a frame."""
        return None if self.energy is None else 1 / self.energy
