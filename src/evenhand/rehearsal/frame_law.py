"""How long frames last: a law whose average and lows can be worked out, and from which runs can be drawn.

The logarithm of a frame's time = what the scene shows there + noise + now and then a hitch, minus the shift of the run. Noise is
normal and correlated from frame to frame, its upper part stretched, so that the right tail is heavier. A cap holds frames back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.signal import fftconvolve, lfilter
from scipy.special import ndtr

from evenhand.frames.model import Floats
from evenhand.measures.catalogue import low_key

NOISE_SD: Final = 0.05  # of the logarithm of a frame
MEMORY: Final = 0.6  # correlation from one frame to the next, of the noise before it is stretched
STRETCH: Final = 0.8  # beyond one standard deviation upwards the noise grows by this share more
HITCH_CHANCE: Final = 0.002  # of a frame
HITCHES: Final = np.log([1.6, 2.0, 2.5])  # by which a hitch lengthens its frame, each as likely
JITTER: Final = 0.005  # of a cap's interval, by which a held frame is late: half-normal
SHARE: Final = 0.01  # of the lows
_STEP: Final = 1e-4  # of the grid of logarithms
_NODES: Final = np.linspace(-6, 6, 49)  # of the shifts, in standard deviations

AVERAGE: Final = "average"
PERCENTILE, TAIL_MEAN, TIME_SHARE = (low_key(d, SHARE) for d in ("percentile", "tail-mean", "time-share"))
MEASURES: Final = (AVERAGE, PERCENTILE, TAIL_MEAN, TIME_SHARE)


@dataclass(frozen=True, slots=True, eq=False)
class FrameLaw:
    """Frames of one scene under one setup. place : (n,), logarithm of the ms that each frame of the scene would take without
    noise. cap_ms : interval of a frame cap, None without one.
    """

    place: Floats
    cap_ms: float | None = None

    def draw(self, shifts: Floats, rng: np.random.Generator) -> Floats:
        """Frame times in ms, (k, n), of k runs whose rates lie `shifts` (k,) (logarithm) off."""
        shape = (shifts.size, self.place.size)
        shocks = rng.standard_normal(shape)
        shocks[:, 1:] *= np.sqrt(1 - MEMORY**2)
        z = lfilter([1.0], [1.0, -MEMORY], shocks, axis=1)
        logs = self.place + NOISE_SD * (z + STRETCH * np.maximum(z - 1, 0)) - shifts[:, None]
        hit = rng.random(shape) < HITCH_CHANCE
        logs[hit] += rng.choice(HITCHES, int(hit.sum()))
        ms = np.exp(logs)
        if self.cap_ms is not None:
            ms = np.maximum(ms, self.cap_ms * (1 + JITTER * np.abs(rng.standard_normal(shape))))
        return np.asarray(ms)

    def truth(self, spread: float) -> Mapping[str, float]:
        """Logarithm of each of `MEASURES` of endlessly many frames, mean over runs whose shifts are normal with `spread`.

        Worked out on a grid of logarithms, good to six decimals: without a cap a shift adds to every measure, so its mean counts
        alone; with one the mean is taken over the shifts.
        """
        x, below = self._distribution(6 * spread)
        if self.cap_ms is None:
            return _measures(x, below)
        late = (np.exp(x) / self.cap_ms - 1) / JITTER
        held = np.where(late > 0, 2 * ndtr(late) - 1, 0.0)
        weights = np.exp(-(_NODES**2) / 2)
        weights /= weights.sum()
        found = [_measures(x, np.interp(x + s, x, below) * held) for s in spread * _NODES]
        return {m: float(np.dot(weights, [f[m] for f in found])) for m in MEASURES}

    def _distribution(self, room: float) -> tuple[Floats, Floats]:
        """(x, P(log ms <= x)) before a cap, on a grid that leaves `room` at both ends: the places, smoothed by the noise."""
        low, high = float(self.place.min()), float(self.place.max())
        places = int((high - low) / _STEP) + 2
        at = (self.place - low) / _STEP
        left = at.astype(np.intp)
        weight = np.bincount(left, 1 - (at - left), places) + np.bincount(left + 1, at - left, places)
        ends = np.array([-7 * NOISE_SD, 7 * NOISE_SD * (1 + STRETCH) + HITCHES.max()])
        u = np.arange(int((ends[1] - ends[0] + 2 * room) / _STEP)) * _STEP + ends[0] - room
        full = np.concatenate([_noise_below(u), np.ones(places)])
        below = fftconvolve(weight / self.place.size, full)[: full.size]
        return low + u[0] + np.arange(full.size) * _STEP, np.clip(below, 0.0, 1.0)


def _noise_below(u: Floats) -> Floats:
    """P(noise and hitch <= u)."""

    def smooth(v: Floats) -> Floats:
        z = v / NOISE_SD
        return np.asarray(ndtr(np.where(z > 1, (z + STRETCH) / (1 + STRETCH), z)))

    hit = np.mean([smooth(u - h) for h in HITCHES], axis=0)
    return np.asarray((1 - HITCH_CHANCE) * smooth(u) + HITCH_CHANCE * hit)


def _measures(x: Floats, below: Floats) -> dict[str, float]:
    """Log rates (per second) of the four measures of a distribution given on a grid."""
    ms = np.exp((x[1:] + x[:-1]) / 2)
    time = np.concatenate([[0.0], np.cumsum(ms * np.diff(below))])  # taken by frames up to x
    mean = float(time[-1])
    first = int(np.argmax(below >= 1 - SHARE)) - 1
    near = slice(first, first + 2)
    tail_ms = (mean - float(np.interp(1 - SHARE, below[near], time[near]))) / SHARE
    slow = int(np.searchsorted(time, (1 - SHARE) * mean)) - 1
    near_time = slice(slow, slow + 2)
    return {
        AVERAGE: float(np.log(1e3 / mean)),
        PERCENTILE: float(np.log(1e3) - np.interp(1 - SHARE, below[near], x[near])),
        TAIL_MEAN: float(np.log(1e3 / tail_ms)),
        TIME_SHARE: float(np.log(1e3) - np.interp((1 - SHARE) * mean, time[near_time], x[near_time])),
    }
