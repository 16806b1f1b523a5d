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
from evenhand.stats.robust import median_without

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
    length = np.sum(~np.isnan(scene.shapes), axis=1)
    usable = (length >= LEAST_BINS) & ~np.isnan(scene.others[:, 0])
    own = _own_courses(scene)
    for there in np.unique(length[usable]):
        rows = np.flatnonzero(usable & (length == there))
        out[rows] = match(scene.shapes[rows, :there], scene.others[rows, :there], shift)
        rows = rows[~np.isnan(own[rows, :there]).any(axis=1)]
        out[rows] = np.maximum(out[rows], match(scene.shapes[rows, :there], own[rows, :there], shift))
    return out


def _own_courses(scene: SceneSurvey) -> Floats:
    """For each run the middle shape of its cell's other whole runs, shape (runs, bins); NaN where these are too few."""
    own = np.full(scene.shapes.shape, np.nan)
    for setup in dict.fromkeys(scene.setups):
        rows = np.array([i for i, s in enumerate(scene.setups) if s == setup], dtype=np.intp)
        whole = scene.whole[rows]
        enough = whole.sum() - whole >= _ENOUGH_MATES
        own[rows[enough]] = median_without(scene.shapes[rows], whole)[enough]
    return own


def play(scene: SceneSurvey) -> int:
    """Bins by which a course may be displaced: a second where a scene runs by the clock, none where its frames are fixed."""
    return 0 if scene.by_frames else max(1, round(1.0 / scene.width))


def match(shape: Floats, other: Floats, shift: int = 0) -> Floats:
    """Match of two courses, or of pairs of them: shapes (..., bins), result (...). shift : bins by which they may be displaced
    (scenes by the clock).
    """
    fine = _stands_out(_detail(shape, _FINE_SPAN), _detail(other, _FINE_SPAN), shift)
    a, b = _coarse(shape), _coarse(other)
    coarse = _stands_out(_detail(a, _COARSE_SPAN), _detail(b, _COARSE_SPAN), -(-shift // _COARSE))
    return np.asarray((fine + coarse) / np.sqrt(2))


def _coarse(x: Floats) -> Floats:
    n = x.shape[-1] // _COARSE
    return np.asarray(x[..., : n * _COARSE].reshape(*x.shape[:-1], n, _COARSE).mean(axis=-1))


def _detail(x: Floats, span: int) -> Floats:
    """Courses without slow changes, single bins tamed, length 1."""
    fast = x - uniform_filter1d(x, min(span, x.shape[-1]), axis=-1, mode="nearest")
    fast = fast - np.median(fast, axis=-1, keepdims=True)
    limit = _TAME * 1.4826 * np.median(np.abs(fast), axis=-1, keepdims=True)
    fast = np.clip(fast, -limit, limit)
    fast = fast - fast.mean(axis=-1, keepdims=True)
    norm = np.sqrt(np.sum(fast**2, axis=-1, keepdims=True))
    return np.asarray(fast / np.where(norm > 0, norm, 1.0))


def _stands_out(a: Floats, b: Floats, shift: int) -> Floats:
    """Best correlation within `shift` of the right place, in standard deviations of those well away from it."""
    n = a.shape[-1]
    at = np.fft.irfft(np.fft.rfft(a, n) * np.conj(np.fft.rfft(b, n)), n)
    near = shift + 3
    away = at[..., near : n - near + 1]
    if away.shape[-1] < 3:
        return np.zeros(a.shape[:-1])
    spread = away.std(axis=-1)
    right = np.concatenate([at[..., n - shift :], at[..., : shift + 1]], axis=-1)
    best = right.max(axis=-1) - away.mean(axis=-1)
    return np.asarray(np.where(spread > 0, best / np.where(spread > 0, spread, 1.0), 0.0))
