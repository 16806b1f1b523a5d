"""Frame series of the invented study: a scene's own course, shared by all its runs, under noise at every level.

The average frame rate of a run is `rate * exp(effect + shifts)` by construction, and the frames that make the slow tail are
longer by exactly the stated effect on lows, so the truth is known and not itself estimated. (The percentile of some 3,000
frames moves in steps, so a scene's low follows its stated effect to about half a per cent.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from evenhand.examples.invented_titles import InventedTitle
from evenhand.frames.model import Floats

HEAVY_SHARE: Final = 0.03  # of all frames; they hold the whole tail of 1 %
FRAME_SD: Final = 0.03  # of the logarithm of a frame, correlated from frame to frame
FRAME_MEMORY: Final = 0.6
_SPARE: Final = 1.06  # a scene is drawn this much longer than it is recorded
_GRID: Final = 2000


@dataclass(frozen=True, slots=True)
class Course:
    """What a scene shows: the same in every run.

    harmonics : (amplitude, phase) of slow waves of frame time. steps : (position, change) of the logarithm of frame time.
    heavy_at : positions of heavy frames as shares of the scene. heavy_by : factor of their frame time, same shape.
    """

    harmonics: tuple[tuple[float, float], ...]
    steps: tuple[tuple[float, float], ...]
    heavy_at: Floats
    heavy_by: Floats

    def log_time(self, position: Floats) -> Floats:
        """Logarithm of the relative frame time at `position` (share of the scene), shape as given."""
        total = np.zeros_like(position)
        for k, (amplitude, phase) in enumerate(self.harmonics, start=1):
            total += amplitude * np.sin(2 * np.pi * (k * position + phase))
        for at, change in self.steps:
            total += np.where(position >= at, change, 0.0)
        return total


@dataclass(frozen=True, slots=True)
class Load:
    """Another program's work during a run: frames take `factor` times as long between two shares of the scene."""

    begins: float
    ends: float
    factor: float


IDLE: Final = Load(0.0, 0.0, 1.0)
BUSY: Final = Load(0.40, 0.65, 1.30)
COMPILING: Final = Load(0.0, _SPARE, 1.05)


def draw_course(rng: np.random.Generator) -> Course:
    """A scene at random."""
    amplitudes = 0.07 * rng.uniform(0.4, 1.0, 5) / np.sqrt(np.arange(1, 6))
    places = np.sort(rng.uniform(0.1, 0.9, 3))
    changes = rng.uniform(0.05, 0.14, 3) * rng.choice([-1.0, 1.0], 3)
    return Course(
        harmonics=tuple(zip(amplitudes.tolist(), rng.uniform(0, 1, 5).tolist(), strict=True)),
        steps=tuple(zip(places.tolist(), changes.tolist(), strict=True)),
        heavy_at=rng.uniform(0, _SPARE, 400),
        heavy_by=1.9 * np.exp(0.15 * rng.standard_normal(400)),
    )


def draw_run(
    title: InventedTitle,
    course: Course,
    effects: tuple[float, float],
    rng: np.random.Generator,
    *,
    load: Load = IDLE,
    cap: float | None = None,
) -> Floats:
    """Frame times of one run in ms, shape (n,); a little longer than the scene (`within` cuts it).

    effects : logarithms by which the run's average, and its slow frames, differ from the title's under the baseline.
    load : what else the PC did. cap : frames per second that nothing exceeds.
    """
    ms = _noiseless(title, course, effects, load, cap)
    ms = ms * np.exp(_correlated(ms.size, rng) - FRAME_SD**2 / 2)
    for place in rng.integers(50, ms.size, rng.poisson(1.5)):
        ms[place] *= rng.uniform(2.0, 3.0)
    return ms if cap is None else _hold(ms, cap, rng)


def _noiseless(title: InventedTitle, course: Course, effects: tuple[float, float], load: Load, cap: float | None) -> Floats:
    """The run as it would be without noise of single frames, and before a cap holds it. What is shown depends on time alone."""
    average, low = effects
    seconds = np.linspace(0.0, title.seconds * _SPARE, _GRID)
    position = seconds / title.seconds
    pace = np.exp(-course.log_time(position))
    rate = title.rate * np.exp(average) * pace / pace[position <= 1].mean()
    rate = np.where((position >= load.begins) & (position < load.ends), rate / load.factor, rate)
    held = rate if cap is None else np.minimum(rate, cap)
    presents = np.concatenate(([0.0], np.cumsum((held[1:] + held[:-1]) / 2 * np.diff(seconds))))
    ms: Floats = 1000.0 / np.interp(np.interp(np.arange(int(presents[-1])), presents, seconds), seconds, rate)
    heavy = np.zeros(ms.size, dtype=bool)
    for at, by in zip(course.heavy_at[: round(HEAVY_SHARE * ms.size)], course.heavy_by, strict=False):
        place = min(int(at / _SPARE * ms.size), ms.size - 1)
        if not heavy[place]:
            heavy[place] = True
            ms[place] *= by * np.exp(average - low)
    if cap is not None:
        return ms
    return _give_back(ms, heavy, round(float(np.interp(title.seconds, seconds, presents))), title.seconds * 1000.0)


def _give_back(ms: Floats, heavy: NDArray[np.bool_], frames: int, total_ms: float) -> Floats:
    """Take the time that heavy frames cost from the others, so that `frames` frames last `total_ms`."""
    scene_ms, scene_heavy = ms[:frames], heavy[:frames]
    factor = (total_ms - scene_ms[scene_heavy].sum()) / scene_ms[~scene_heavy].sum()
    return np.where(heavy, ms, ms * factor)


def _correlated(n: int, rng: np.random.Generator) -> Floats:
    """First-order autoregressive noise of standard deviation FRAME_SD, shape (n,)."""
    shocks = rng.standard_normal(n) * FRAME_SD * np.sqrt(1 - FRAME_MEMORY**2)
    return np.asarray(lfilter([1.0], [1.0, -FRAME_MEMORY], shocks), dtype=np.float64)


def _hold(ms: Floats, rate: float, rng: np.random.Generator) -> Floats:
    """What a frame cap makes of frames: none shorter than its interval, up to the limiter's jitter of 0.3 %."""
    return np.maximum(ms, 1000.0 / rate) * np.exp(0.003 * rng.standard_normal(ms.size))


def within(ms: Floats, from_s: float, length_s: float) -> Floats:
    """Frames that end between `from_s` and `from_s + length_s`."""
    ends = np.cumsum(ms) / 1000.0
    return ms[(ends > from_s) & (ends <= from_s + length_s)]


def stall(ms: Floats, place: int, length_ms: float) -> Floats:
    """One frame of at least `length_ms` at `place` instead of those that would have been drawn meanwhile."""
    swallowed = int(np.searchsorted(np.cumsum(ms[place:]), length_ms)) + 1
    return np.concatenate((ms[:place], [ms[place : place + swallowed].sum()], ms[place + swallowed :]))


def compile_shaders(ms: Floats, rng: np.random.Generator) -> Floats:
    """Long frames in the first half of a run whose shaders are not on disk yet."""
    for place in np.sort(rng.choice(np.arange(50, ms.size // 2), size=25, replace=False))[::-1]:
        ms = stall(ms, int(place), rng.uniform(40.0, 120.0))
    return ms


def roughen(ms: Floats, load: Load, rng: np.random.Generator) -> Floats:
    """Unevenness that a load brings where it runs."""
    position = np.cumsum(ms) / ms.sum() * _SPARE
    rough = np.exp(0.08 * rng.standard_normal(ms.size))
    return np.where((position >= load.begins) & (position < load.ends), ms * rough, ms)


def before_scene(title: InventedTitle, rng: np.random.Generator) -> Floats:
    """Frames that a log holds before the scene: three of a start screen at 30 a second, then the loading interval; empty
    without loading.
    """
    if title.loading_s == 0:
        return np.empty(0)
    screens = rng.uniform(32.0, 35.0, 3)
    return np.concatenate((screens, [1000.0 * title.loading_s * rng.uniform(0.9, 1.2)]))
