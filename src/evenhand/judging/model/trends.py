"""What a factor with numeric levels does along its values: the curve with its band, its steps, its slope, and its knee."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.judging.model.found import Interval, Verdict


@dataclass(frozen=True, slots=True)
class LevelPoint:
    """One level. estimate : against the reference level (0 for itself), as measured. fitted : the same on the curve, which never
    turns where the trend's direction is clear. low, high : band that holds for all levels at once.
    """

    level: str
    value: float
    estimate: float
    fitted: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LevelStep:
    """From one level to the next higher one. interval : holds for all pairs of levels at once; the verdict rests on it and, for
    level, on the 90 % interval of this step alone.
    """

    lower: str
    upper: str
    estimate: float
    se: float
    df: float
    interval: Interval
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A number that describes the curve, on the measure's scale. interval : holds at once with those of all pairs of levels."""

    estimate: float
    se: float
    df: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class Knee:
    """Where more of the factor ends to pay: the lowest level from which on no higher level is better by more than the margin.

    enough : the lowest level shown to be that or above it. at_least : the lowest level not shown to be below it. They are the
    same where it can be told. gain : of `enough` over the lowest level of all, None where it is that itself.
    """

    at_least: str
    enough: str
    gain: Coefficient | None = None

    @property
    def told(self) -> bool:
        """Whether one level is left."""
        return self.at_least == self.enough


@dataclass(frozen=True, slots=True)
class Trend:
    """A factor whose three levels or more are all numbers, at a title (`title`) or over titles (None), mean over the levels of
    the other factors.

    reference : the factor's first level. points, steps : by rising value. direction : 1 where the measure rises with the value,
    -1 where it falls, 0 where neither is clear. per_unit : slope of the straight line, for one unit of the value; per_doubling :
    the same against the logarithm of the value, None where a value is not above 0. bend : how far the middle of the range lies
    above the straight line between its ends (quadratic fit). knee : None where there is no verdict. additive : as in `Effect`.
    """

    measure: str
    title: str | None
    factor: str
    reference: str
    points: tuple[LevelPoint, ...]
    steps: tuple[LevelStep, ...]
    direction: int
    per_unit: Coefficient
    per_doubling: Coefficient | None
    bend: Coefficient
    knee: Knee | None
    margin: float
    doubts: tuple[str, ...] = ()
    additive: bool = False
