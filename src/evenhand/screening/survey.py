"""What all checks look at: the runs of a study, measured once.

Every run gets a few plain numbers (level, roughness, pile-up) and its *course*: the mean log duration over small bins of the
scene. Bins are frames where the scene plays a fixed set of frames, seconds where it runs by the clock, so that the same bin
is the same place of the scene in every run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from evenhand.frames.model import Floats, Frames
from evenhand.screening.levels import Levels, fit_levels
from evenhand.screening.model import ScreenedRun
from evenhand.stats.robust import median_without
from evenhand.study.model import Pace, RunKey

Indices: TypeAlias = NDArray[np.intp]

PILE_WIDTH: Final = 0.03  # of a frame time: one pile-up; a frame cap holds to a few per cent
BINS: Final = 800  # fine bins of a scene at most
NEARLY_ALL: Final = 0.02  # of the scene may be missing in a whole run
_LEAST_FRAMES: Final = 3  # in a fine bin
_LEAST_SECONDS: Final = 0.1  # in a fine bin, scenes by the clock


@dataclass(frozen=True, slots=True)
class Traits:
    """Plain numbers of one run's counted frames.

    rough : median size of the change of log duration from one frame to the next.
    pile_share : largest share of frames inside a window `PILE_WIDTH` wide; pile_ms : its middle frame; pile_below : share of
    frames faster than it. longest_ms : longest frame. tail : frames (scenes of fixed frames) or seconds from the start of the
    scene to the end of the log.
    """

    rough: float
    pile_share: float
    pile_ms: float
    pile_below: float
    longest_ms: float
    tail: float


def measure_traits(run: ScreenedRun) -> Traits:
    """The traits of one run; takes about a millisecond for 10,000 frames."""
    ms = run.cut.counted.ms
    logs = np.log(ms)
    ordered = np.sort(logs)
    inside = np.searchsorted(ordered, ordered + np.log1p(PILE_WIDTH), side="right") - np.arange(ms.size)
    start = int(np.argmax(inside))
    rest = run.whole.ns[run.cut.first :]
    return Traits(
        rough=float(np.median(np.abs(np.diff(logs)))) if ms.size > 1 else 0.0,
        pile_share=float(inside[start] / ms.size),
        pile_ms=float(np.exp(ordered[start + inside[start] // 2])),
        pile_below=start / ms.size,
        longest_ms=float(ms.max()),
        tail=float(rest.size) if run.scene.pace is Pace.FRAMES else float(rest.sum() / 1e9),
    )


def bins_of(length: float, by_frames: bool) -> tuple[float, int]:
    """Width (frames or seconds) and number of the fine bins of a scene so long."""
    width = max(float(np.ceil(length / BINS)), _LEAST_FRAMES) if by_frames else max(length / BINS, _LEAST_SECONDS)
    width = min(width, length)
    return width, int(length / width + 1e-9)


def course(frames: Frames, by_frames: bool, width: float, bins: int) -> Floats:
    """Mean log duration (log ms) in each bin of the scene, shape (bins,); NaN from the bin in which the log ends.

    width : frames or seconds of a bin. A bin that no frame begins in (a long frame covers it) has the value before it.
    """
    logs = np.log(frames.ms)
    place = np.arange(len(frames), dtype=np.float64) if by_frames else frames.ends_s - frames.ns / 1e9
    length = float(len(frames)) if by_frames else frames.seconds
    which = (place / width).astype(np.intp)
    inside = which < bins
    count = np.bincount(which[inside], minlength=bins)
    total = np.bincount(which[inside], weights=logs[inside], minlength=bins)
    filled = np.maximum.accumulate(np.where(count > 0, np.arange(bins), 0))
    means: Floats = (total / np.maximum(count, 1))[filled]
    means[max(1, int(length / width + 1e-9)) :] = np.nan
    return means


@dataclass(frozen=True, eq=False)
class SceneSurvey:
    """The runs of one scene. `members` are indices into the survey; `courses` has their courses as rows, shape
    (runs, bins), NaN where a log has ended; `length` of the scene and `width` of a bin are in frames or seconds.
    """

    title: str
    scene: str
    by_frames: bool
    members: Indices
    setups: tuple[str, ...]
    length: float
    width: float
    courses: Floats

    @cached_property
    def whole(self) -> NDArray[np.bool_]:
        """Runs whose log covers (nearly) all bins, shape (runs,)."""
        return np.asarray(np.mean(np.isnan(self.courses), axis=1) <= NEARLY_ALL)

    @cached_property
    def middle(self) -> Floats:
        """The middle course: median over the whole runs, shape (bins,)."""
        return np.asarray(np.median(filled(self.courses[self.whole]), axis=0))

    @cached_property
    def offsets(self) -> Floats:
        """How each run's course lies to the middle course (log duration), shape (runs,)."""
        return np.array([float(np.median(row[~np.isnan(row)])) for row in self.courses - self.middle])

    @cached_property
    def paces(self) -> Floats:
        """Log rate of each run, place by place beside the others, shape (runs,)."""
        return float(np.log(1e3) - np.mean(self.middle)) - self.offsets

    @cached_property
    def shapes(self) -> Floats:
        """Courses without each run's own pace: what the scene does, whatever the speed. Shape (runs, bins)."""
        return self.courses - self.offsets[:, None]

    @cached_property
    def others(self) -> Floats:
        """For each run the middle shape of the other whole runs, shape (runs, bins)."""
        return median_without(self.shapes, self.whole)

    def mates(self, row: int) -> Indices:
        """Rows of the other runs of the same cell."""
        return np.array([i for i, s in enumerate(self.setups) if i != row and s == self.setups[row]], dtype=np.intp)


@dataclass(frozen=True, eq=False)
class Survey:
    """All runs, their traits, and the scenes they belong to."""

    runs: tuple[ScreenedRun, ...]
    traits: tuple[Traits, ...]
    scenes: tuple[SceneSurvey, ...]

    @cached_property
    def levels(self) -> Levels:
        """Log rates as cell plus shift of the visit, each run judged by the others. The rate of a run is how its course lies
        to the middle course of its scene, place by place, so that a log that stops early can be compared too.
        """
        value = np.zeros(len(self.runs))
        for scene in self.scenes:
            value[scene.members] = scene.paces
        return fit_levels([r.key for r in self.runs], value)

    def key(self, index: int) -> RunKey:
        """Address of a run."""
        return self.runs[index].key


def survey(runs: Sequence[ScreenedRun]) -> Survey:
    """Measure every run once and gather the scenes, in the order in which they first appear."""
    traits = tuple(measure_traits(r) for r in runs)
    groups: dict[tuple[str, str], list[int]] = {}
    for i, r in enumerate(runs):
        groups.setdefault((r.key.title, r.key.scene), []).append(i)
    return Survey(tuple(runs), traits, tuple(_scene(runs, name, members) for name, members in groups.items()))


def filled(rows: Floats) -> Floats:
    """NaN at the end of a row replaced by its last value, so that medians over rows are defined."""
    last = np.maximum.accumulate(np.where(np.isnan(rows), 0, np.arange(rows.shape[1])), axis=1)
    return np.asarray(np.take_along_axis(rows, last, axis=1))


def _scene(runs: Sequence[ScreenedRun], name: tuple[str, str], members: list[int]) -> SceneSurvey:
    mine = [runs[i] for i in members]
    by_frames = mine[0].scene.pace is Pace.FRAMES
    lengths = [float(len(r.cut.counted)) if by_frames else r.cut.counted.seconds for r in mine]
    length = float(np.median(lengths))
    width, bins = bins_of(length, by_frames)
    rows = np.array([course(r.cut.counted, by_frames, width, bins) for r in mine])
    setups = tuple(r.key.setup for r in mine)
    return SceneSurvey(*name, by_frames, np.array(members, dtype=np.intp), setups, length, width, rows)
