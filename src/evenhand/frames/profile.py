"""The pace of a run over the scene, and how far two such profiles are shifted against each other.

Position is seconds for a scene that runs by the clock and frames for one that plays a fixed set of frames, so that the same
bin shows the same content in every run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Floats, Frames

FEWEST_BINS: Final = 32
MOST_BINS: Final = 400
BIN_SECONDS: Final = 0.2
BIN_FRAMES: Final = 16.0


def bins_for(length: float, pace: str) -> int:
    """Number of bins for a stretch of `length` (frames or seconds): about 0.2 s or 16 frames each, within limits."""
    wanted = length / (BIN_FRAMES if pace == "frames" else BIN_SECONDS)
    return int(np.clip(round(wanted), FEWEST_BINS, MOST_BINS))


def pace_profile(frames: Frames, pace: str, bins: int, length: float, begin: float = 0.0) -> Floats:
    """Frame rate in each bin as a share of the median over the bins, shape (bins,); NaN where the log has no such place.

    pace : "frames" (bins are equal numbers of frames) or "clock" (equal seconds). length, begin : the stretch, in frames or
    seconds from the log's first frame; a bin that cuts a frame takes its share of it. 1.0 is the run's usual pace, so profiles
    of fast and slow setups can be laid over each other.
    """
    return shares(rates(frames, pace, bins, length, begin))


def rates(frames: Frames, pace: str, bins: int, length: float, begin: float = 0.0) -> Floats:
    """Frames per second in each bin, shape (bins,); arguments and NaN as in `pace_profile`."""
    return Course.of(frames, pace).rates(bins, length, begin)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A run as a line through its frames' ends, ready to be looked at in many bins: where each frame ends in the scene (`place`,
    frames or seconds) and in the other quantity, shapes (n + 1,).
    """

    place: Floats
    other: Floats
    by_frames: bool

    @classmethod
    def of(cls, frames: Frames, pace: str) -> Course:
        """The course of a run of pace "frames" or "clock"."""
        seconds = np.concatenate(([0.0], frames.ends_s))
        count = np.arange(seconds.size, dtype=np.float64)
        return cls(count, seconds, True) if pace == "frames" else cls(seconds, count, False)

    def rates(self, bins: int, length: float, begin: float) -> Floats:
        """As the function of that name."""
        edges = begin + np.linspace(0.0, length, bins + 1)
        # A bin is there when no more than a rounding error of it is missing.
        slack = 1e-9 * max(1.0, float(self.place[-1]))
        inside = (edges >= -slack) & (edges <= self.place[-1] + slack)
        across = np.where(inside, np.interp(edges, self.place, self.other), np.nan)
        width, step = np.diff(edges), np.diff(across)
        with np.errstate(divide="ignore", invalid="ignore"):
            return width / step if self.by_frames else step / width


def shares(values: Floats) -> Floats:
    """`values`, shape (bins,), as shares of their median; NaN stays NaN."""
    known = values[np.isfinite(values)]
    middle = float(np.median(known)) if known.size else np.nan
    return values / middle if middle > 0 else np.full_like(values, np.nan)


@dataclass(frozen=True, slots=True)
class Alignment:
    """How a profile lies against a reference: the best shift in bins (positive: the profile comes later) and the correlation
    there and without a shift; NaN where one of the two is flat or too little of them overlaps.
    """

    lag: int
    correlation: float
    unshifted: float


def lag(profile: Floats, reference: Floats) -> int:
    """Shift in bins at which the two agree best, at most a quarter of the reference; positive: the profile comes later."""
    return alignment(profile, reference, reference.size // 4).lag


def alignment(profile: Floats, reference: Floats, most: int) -> Alignment:
    """Cross-correlation of two profiles of equal shape (bins,) for shifts of up to `most` bins."""
    found = {shift: correlation(_shifted(profile, shift), reference) for shift in range(-most, most + 1)}
    known = {shift: r for shift, r in found.items() if np.isfinite(r)}
    # Of equal correlations the smallest shift, so that a flat or periodic profile is left where it is.
    best = max(known, key=lambda shift: (known[shift], -abs(shift)), default=0)
    return Alignment(best, found[best], found[0])


def correlation(profile: Floats, reference: Floats) -> float:
    """Pearson's correlation of the two courses (logarithms, slow course taken out) where both are known, shapes (bins,); NaN
    where they share less than half of the bins or one of them is flat.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = np.log(profile), np.log(reference)
    both = np.isfinite(a) & np.isfinite(b)
    if both.sum() < max(8, reference.size / 2):
        return float("nan")
    x, y = _without_slow_course(a[both]), _without_slow_course(b[both])
    scale = float(np.sqrt((x @ x) * (y @ y)))
    flat = min(float(x.std()), float(y.std())) < 1e-9
    return float("nan") if flat else float(x @ y) / scale


def _without_slow_course(values: Floats) -> Floats:
    """Values minus a straight line through them: drift of one run must not pass for its content."""
    place = np.linspace(-1.0, 1.0, values.size)
    slope = float(place @ values) / float(place @ place)
    return np.asarray(values - values.mean() - slope * place, dtype=np.float64)


def _shifted(values: Floats, shift: int) -> Floats:
    moved = np.full_like(values, np.nan)
    if shift >= 0:
        moved[: values.size - shift] = values[shift:]
    else:
        moved[-shift:] = values[:shift]
    return moved
