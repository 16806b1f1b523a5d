"""Where in a scene setups differ: the difference in pace along it, with a band that holds for the whole scene."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.judging.model.found import Verdict


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of a scene where a setup is clearly ahead or behind.

    begin, end : in the scene's unit. estimate, low, high : mean over its bins of the difference and of the band, natural
    logarithm of a ratio of frame rates. verdict : ahead or behind, beyond the margin where the mean band is.
    """

    begin: float
    end: float
    estimate: float
    low: float
    high: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Along:
    """One setup against another along one scene.

    unit : "seconds" or "frames". edges : of B bins, B + 1 of them, from the beginning of the stretch that counts. estimate,
    low, high : each B, natural logarithms of ratios of frame rates; estimate NaN and ends infinite where a visit has no such
    place. The band holds for all bins and all setups of the scene at once. margin : that of the average, on the same scale.
    visits : of the setup and of the one it is compared with.
    """

    title: str
    scene: str
    setup: str
    against: str
    unit: str
    edges: tuple[float, ...]
    estimate: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    margin: float
    confidence: float
    visits: tuple[int, int]
    passages: tuple[Passage, ...]
