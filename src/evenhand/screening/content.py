"""Whether a run shows its scene: its course must agree with the other runs' *here* better than anywhere else.

The course of a run is laid over the middle course of the scene's other runs at every displacement. At the right place the
correlation stands out of those at the wrong places; by how many of their standard deviations is the run's *match*. A scene's
own ups and downs set the scale, so neither a flat scene nor a lively one needs a limit of its own. Two scales are looked at
(single bins and stretches of three), each without slow changes, and their matches added as for independent values. They share
some detail, so that the sum spreads by about 1.3 where nothing agrees.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.ndimage import uniform_filter1d

from evenhand.frames.model import Floats
from evenhand.screening.survey import SceneSurvey

_FINE_SPAN: Final = 15  # bins over which slow changes are taken out
_COARSE: Final = 3  # fine bins in a coarse one
_COARSE_SPAN: Final = 31
_TAME: Final = 3.0  # robust standard deviations beyond which a bin counts no more: single hitches are not content
_ENOUGH_MATES: Final = 2  # whole runs of the cell, from which on its own course is known
LEAST_BINS: Final = 30  # a shorter piece shows too little to compare


def matches(scene: SceneSurvey) -> Floats:
    """How many standard deviations each run's agreement with the scene's other runs, or its cell's, stands out, shape (runs,).

    NaN where there is no other run or too little of this one. About standard normal for a run with other content.
    """
    out = np.full(len(scene.setups), np.nan)
    shift = play(scene)
    for i, shape in enumerate(scene.shapes):
        there = int(np.sum(~np.isnan(shape)))
        if there < LEAST_BINS or np.isnan(scene.others[i, 0]):
            continue
        out[i] = match(shape[:there], scene.others[i, :there], shift)
        mates = scene.mates(i)
        mates = mates[scene.whole[mates]]
        if mates.size >= _ENOUGH_MATES:
            own = np.median(scene.shapes[mates, :there], axis=0)
            out[i] = max(out[i], match(shape[:there], own, shift))
    return out


def play(scene: SceneSurvey) -> int:
    """Bins by which a course may be displaced: a second where a scene runs by the clock, none where its frames are fixed."""
    return 0 if scene.by_frames else max(1, round(1.0 / scene.width))


def match(shape: Floats, other: Floats, shift: int = 0) -> float:
    """Match of two courses of shape (bins,). shift : bins by which they may be displaced (scenes by the clock)."""
    fine = _stands_out(_detail(shape, _FINE_SPAN), _detail(other, _FINE_SPAN), shift)
    a, b = _coarse(shape), _coarse(other)
    coarse = _stands_out(_detail(a, _COARSE_SPAN), _detail(b, _COARSE_SPAN), -(-shift // _COARSE))
    return float((fine + coarse) / np.sqrt(2))


def _coarse(x: Floats) -> Floats:
    n = x.size // _COARSE
    return np.asarray(x[: n * _COARSE].reshape(n, _COARSE).mean(axis=1))


def _detail(x: Floats, span: int) -> Floats:
    """Course without slow changes, single bins tamed, length 1."""
    fast = x - uniform_filter1d(x, min(span, x.size), mode="nearest")
    fast = fast - np.median(fast)
    limit = _TAME * 1.4826 * float(np.median(np.abs(fast)))
    fast = np.clip(fast, -limit, limit)
    fast = fast - fast.mean()
    norm = float(np.sqrt(fast @ fast))
    return np.asarray(fast / norm if norm > 0 else fast)


def _stands_out(a: Floats, b: Floats, shift: int) -> float:
    """Best correlation within `shift` of the right place, in standard deviations of those well away from it."""
    n = a.size
    at = np.fft.irfft(np.fft.rfft(a, n) * np.conj(np.fft.rfft(b, n)), n)
    near = shift + 3
    away = at[near : n - near + 1]
    if away.size < 3:
        return 0.0
    spread = float(away.std())
    best = max(float(at[: shift + 1].max()), float(at[n - shift :].max()) if shift else -1.0)
    return (best - float(away.mean())) / spread if spread > 0 else 0.0
