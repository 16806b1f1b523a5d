"""Where in a scene setups differ: visits as replicates, the bins of the scene as titles are in the judgement of a study.

Noise has the same two parts: what a visit shares along the whole scene, and each bin's own. Derivation, choice of the band and
its coverage: docs/methods/along-the-scene.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

import numpy as np
import numpy.typing as npt

from evenhand.judging.layout import Layout, complete_rounds, layout_of
from evenhand.judging.model import Along, Passage, Verdict
from evenhand.judging.noise import VisitNoise, contrast_weights, estimates, visit_noise
from evenhand.stats.maxt import alike_quantile

Floats = npt.NDArray[np.float64]

#: A bin's own noise is known by at most this many times the degrees of freedom that the bin itself has.
MOST_BORROWED: Final = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """Differences of S scenes: estimate, half : (S, C − 1, B), every setup but the baseline against it, and half the band."""

    estimate: Floats
    half: Floats


@dataclass(frozen=True, slots=True)
class ScenePaces:
    """What is compared along one scene.

    setups : C names, the first is compared against. logs : (C, V, B), visit means of the logarithm of the frame rate in each bin;
    NaN where there is none. unit, edges : as in `Along`.
    """

    title: str
    scene: str
    setups: tuple[str, ...]
    logs: Floats
    unit: str
    edges: tuple[float, ...]


def along_scene(paces: ScenePaces, *, margin: float, confidence: float, rounds: bool) -> tuple[Along, ...]:
    """Every setup but the first against the first. rounds : whether rounds are blocks, where they are complete.

    Empty where visits and setups cannot be told apart, or no bin is there in every visit.
    """
    there = np.asarray(~np.isnan(paces.logs).all(axis=2))
    whole = np.asarray(~np.isnan(paces.logs[there]).any(axis=0))
    if len(paces.setups) < 2 or not whole.any() or not there.any(axis=1).all():
        return ()
    present = np.repeat(there[None], int(whole.sum()), axis=0)
    layout = layout_of(present, rounds and complete_rounds(present))
    if layout.shift_df <= 0:
        return ()
    found = band(layout, layout.pick(np.moveaxis(paces.logs[:, :, whole], 2, 0))[None, :], confidence)
    return tuple(
        _along(paces, k, whole, found.estimate[0, k - 1], found.half[0, k - 1], margin, confidence)
        for k in range(1, len(paces.setups))
    )


def band(layout: Layout, logs: Floats, confidence: float) -> Band:
    """From visit means of the bins (S, N) in the layout's order; the layout's titles are the bins."""
    bins, setups, _ = layout.shape
    noise = _guarded(layout, visit_noise(layout, logs))
    against_first = np.eye(setups)[1:] - np.eye(setups)[0]
    rows = contrast_weights(layout, np.tile(np.eye(bins), (setups - 1, 1)), np.repeat(against_first, bins, axis=0))
    found = estimates(layout, noise, logs, rows)
    shape = (logs.shape[0], setups - 1, bins)
    shared = np.divide(noise.shift[:, None] * found.shift_share, found.se**2, out=np.zeros_like(found.se), where=found.se > 0)
    alike = np.minimum(shared, 1.0).reshape(shape).mean(axis=2, keepdims=True)
    each = 1.0 - (1.0 - confidence) / (setups - 1)
    critical = alike_quantile(bins, np.broadcast_to(alike, shape), found.df.reshape(shape), each)
    return Band(found.estimate.reshape(shape), critical * found.se.reshape(shape))


def _guarded(layout: Layout, noise: VisitNoise) -> VisitNoise:
    """A bin noisier than the others keeps its own noise, and no bin's noise passes for better known than twice what it shows: the
    largest of many bins is most often one that is noisier than its neighbours.
    """
    return replace(
        noise,
        own=np.maximum(noise.own, noise.raw),
        own_df=np.minimum(noise.own_df, MOST_BORROWED * np.maximum(layout.own_df, 1.0)),
    )


def _along(
    paces: ScenePaces,
    setup: int,
    whole: npt.NDArray[np.bool_],
    estimate: Floats,
    half: Floats,
    margin: float,
    confidence: float,
) -> Along:
    middle, visits = np.full(whole.size, np.nan), (~np.isnan(paces.logs).all(axis=2)).sum(axis=1).tolist()
    low, high = np.full(whole.size, -np.inf), np.full(whole.size, np.inf)
    middle[whole], low[whole], high[whole] = estimate, estimate - half, estimate + half
    return Along(
        title=paces.title,
        scene=paces.scene,
        setup=paces.setups[setup],
        against=paces.setups[0],
        unit=paces.unit,
        edges=paces.edges,
        estimate=tuple(middle.tolist()),
        low=tuple(low.tolist()),
        high=tuple(high.tolist()),
        margin=margin,
        confidence=confidence,
        visits=(visits[setup], visits[0]),
        passages=passages(paces.edges, middle, low, high, margin),
    )


def passages(edges: Sequence[float], estimate: Floats, low: Floats, high: Floats, margin: float) -> tuple[Passage, ...]:
    """Neighbouring bins whose band, (B,) each, lies on the same side of 0, from the beginning of the scene to its end."""
    side = np.where(low > 0, 1, np.where(high < 0, -1, 0))
    found, at = [], 0
    for sign, members in groupby(side.tolist()):
        size = len(list(members))
        if sign:
            inside = slice(at, at + size)
            ends = float(low[inside].mean()), float(high[inside].mean())
            found.append(
                Passage(edges[at], edges[at + size], float(estimate[inside].mean()), *ends, _verdict(sign, ends, margin))
            )
        at += size
    return tuple(found)


def _verdict(sign: int, ends: tuple[float, float], margin: float) -> Verdict:
    if sign > 0:
        return Verdict.AHEAD_BEYOND if ends[0] >= margin > 0 else Verdict.AHEAD
    return Verdict.BEHIND_BEYOND if ends[1] <= -margin < 0 else Verdict.BEHIND
