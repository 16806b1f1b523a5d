"""Frame series of the invented study: a scene's own course, shared by all its runs, under noise at every level.

The average frame rate of a run is `rate * exp(effect + shifts)` by construction, and the frames that make the slow tail are
longer by exactly the stated effect on lows, so the truth is known and not itself estimated. (The percentile of some 3,000
frames moves in steps, so a scene's low follows its stated effect to about half a per cent.)
"""

from __future__ import annotations

from collections.abc import Callable
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


def draw_run(title: InventedTitle, course: Course, average: float, low: float, rng: np.random.Generator) -> Floats:
    """Frame times of one run in ms, shape (n,): `title.seconds` of the scene.

    average : logarithm by which the run's average differs from the title's `rate`. low : the same for its slow frames.
    """
    ms = _noiseless(title, course, average, low)
    noise = _correlated(ms.size, rng)
    ms = ms * np.exp(noise - FRAME_SD**2 / 2)
    for place in rng.integers(50, ms.size, rng.poisson(1.5)):
        ms[place] *= rng.uniform(2.0, 3.0)
    if title.cap is not None:
        ms = hold(ms, title.cap, rng)
    return within(ms, rng.uniform(0.0, 0.2), title.seconds)


def _noiseless(title: InventedTitle, course: Course, average: float, low: float) -> Floats:
    """The run as it would be without any noise of single frames; a little longer than the scene."""
    seconds = np.linspace(0.0, title.seconds * _SPARE, _GRID)
    pace = np.exp(-course.log_time(seconds / title.seconds))
    inside = seconds <= title.seconds
    rate = title.rate * np.exp(average) * pace / pace[inside].mean()
    presents = np.concatenate(([0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(seconds))))
    ms = 1000.0 * np.diff(np.interp(np.arange(int(presents[-1])), presents, seconds))
    heavy = np.zeros(ms.size, dtype=bool)
    for at, by in zip(course.heavy_at[: round(HEAVY_SHARE * ms.size)], course.heavy_by, strict=False):
        place = min(int(at / _SPARE * ms.size), ms.size - 1)
        if not heavy[place]:
            heavy[place] = True
            ms[place] *= by * np.exp(average - low)
    return _give_back(ms, heavy, round(title.rate * np.exp(average) * title.seconds), title.seconds * 1000.0)


def _give_back(ms: Floats, heavy: NDArray[np.bool_], frames: int, total_ms: float) -> Floats:
    """Take the time that heavy frames cost from the others, so that `frames` frames last `total_ms`."""
    scene_ms, scene_heavy = ms[:frames], heavy[:frames]
    factor = (total_ms - scene_ms[scene_heavy].sum()) / scene_ms[~scene_heavy].sum()
    return np.where(heavy, ms, ms * factor)


def _correlated(n: int, rng: np.random.Generator) -> Floats:
    """First-order autoregressive noise of standard deviation FRAME_SD, shape (n,)."""
    shocks = rng.standard_normal(n) * FRAME_SD * np.sqrt(1 - FRAME_MEMORY**2)
    return np.asarray(lfilter([1.0], [1.0, -FRAME_MEMORY], shocks), dtype=np.float64)


def within(ms: Floats, from_s: float, length_s: float) -> Floats:
    """Frames that end between `from_s` and `from_s + length_s`."""
    ends = np.cumsum(ms) / 1000.0
    return ms[(ends > from_s) & (ends <= from_s + length_s)]


def hold(ms: Floats, rate: float, rng: np.random.Generator) -> Floats:
    """What a frame cap makes of frames: none shorter than its interval, up to the limiter's jitter of 0.3 %."""
    return np.maximum(ms, 1000.0 / rate) * np.exp(0.003 * rng.standard_normal(ms.size))


def warm_up(ms: Floats, rng: np.random.Generator) -> Floats:
    """The first run of a visit while shaders are compiled: everything 5 % slower, and long frames in its first half."""
    slow = ms * 1.05
    places = rng.choice(ms.size // 2, size=25, replace=False)
    slow[places] += rng.uniform(30.0, 110.0, 25)
    return slow


def before_scene(title: InventedTitle, rng: np.random.Generator) -> Floats:
    """Frames that a log holds before the scene: three of a start screen at 30 a second, then the loading interval; empty
    without loading.
    """
    if title.loading_s == 0:
        return np.empty(0)
    screens = rng.uniform(32.0, 35.0, 3)
    return np.concatenate((screens, [1000.0 * title.loading_s * rng.uniform(0.9, 1.2)]))


def _capped_at_60(ms: Floats, rng: np.random.Generator) -> Floats:
    return hold(ms, 60.0, rng)


def _cut_short(ms: Floats, rng: np.random.Generator) -> Floats:
    return ms[: round(ms.size * 0.6)]


def _loaded_in_part(ms: Floats, rng: np.random.Generator) -> Floats:
    """Another program takes processor time from 40 to 65 % of the run."""
    slow = ms.copy()
    first, last = round(ms.size * 0.40), round(ms.size * 0.65)
    slow[first:last] *= 1.30 * np.exp(0.08 * rng.standard_normal(last - first))
    return slow


def _stopped_once(ms: Floats, rng: np.random.Generator) -> Floats:
    stopped = ms.copy()
    stopped[round(ms.size * rng.uniform(0.3, 0.8))] += 650.0
    return stopped


#: kind of spoiling -> what it does to the frames of a good run; keys are slugs of screening checks.
SPOIL: Final[dict[str, Callable[[Floats, np.random.Generator], Floats]]] = {
    "capped": _capped_at_60,
    "too-short": _cut_short,
    "busy-machine": _loaded_in_part,
    "lone-stall": _stopped_once,
}
