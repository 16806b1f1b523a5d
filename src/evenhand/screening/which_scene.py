"""Which scene a log shows, by its course: the same statistic by which a run of other content is told.

A scene's *reference* is the middle course of the runs that there are of it. How well a log matches it is counted in standard
deviations of wrong places (`content.match`), about standard normal for a log of another scene. Where no course
stands out, the number of frames tells a scene of a fixed set of frames, if it alone has that number.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Generic, TypeVar

import numpy as np

from evenhand.frames.model import Cut, Floats, Frames, Stretch
from evenhand.frames.start import find_start
from evenhand.frames.stretch import FARTHEST_S, FRAMES, SAME_COUNT, apply
from evenhand.screening.content import LEAST_BINS, match
from evenhand.screening.survey import NEARLY_ALL, bins_of, course, filled
from evenhand.stats.robust import median_without

#: A match from which on a log is of a scene beyond doubt; by so much it must beat every other scene.
CLEAR: Final = 5.0
LEAD: Final = 2.5
#: Below this share of its usual match a run of a scene with a marked course does not follow it.
SHARE_OF_USUAL: Final = 0.5
#: A match below which a course speaks against a scene that the number of frames speaks for: wrong places do better on average.
AGAINST: Final = 0.0
#: A log must hold this share of a scene to be compared with it.
_ENOUGH: Final = 0.5

S = TypeVar("S", bound=Hashable)


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The usual course of a scene.

    middle : mean log durations without pace, shape (bins,). usual : the match that its own runs have with each other, NaN for a
    single run. frames : of a whole log, its usual number. width : of a bin, frames or seconds; play : bins by which it may be
    displaced.
    """

    stretch: Stretch
    width: float
    play: int
    middle: Floats
    usual: float
    frames: float

    @classmethod
    def of(cls, stretch: Stretch, runs: Sequence[Frames], cuts: Sequence[Cut] = ()) -> Reference:
        """From whole runs of a scene, one or more. cuts : the stretch applied to them, where that was done already."""
        cuts = cuts or [apply(run, stretch) for run in runs]
        by_frames = stretch.pace == FRAMES
        length = stretch.length or float(np.median([len(r) if by_frames else r.seconds for r in runs]))
        width, bins = bins_of(length, by_frames)
        play = 0 if by_frames else max(1, round(FARTHEST_S / width))
        rows = np.array([_shape(course(cut.counted, by_frames, width, bins)) for cut in cuts])
        whole = np.mean(np.isnan(rows), axis=1) <= NEARLY_ALL
        frames = float(np.median([len(run) for run in runs]))
        if not whole.any():
            return cls(stretch, width, play, np.full(bins, np.nan), np.nan, frames)
        rows = filled(rows[whole])
        middle = np.asarray(np.median(rows, axis=0))
        usual = np.nan
        if len(rows) > 1 and bins >= LEAST_BINS:
            usual = float(np.median(match(rows, median_without(rows), play)))
        return cls(stretch, width, play, middle, usual, frames)

    def match(self, played: Frames) -> float:
        """How well a log, from its own start on, follows the course; NaN where it holds too little of the scene, or the scene is
        too short, to tell. A piece is compared with the part of the scene that it holds.
        """
        bins, by_frames = self.middle.size, self.stretch.pace == FRAMES
        own = _shape(course(_after(played, self.stretch.skip, by_frames), by_frames, self.width, bins))
        there = int(np.sum(~np.isnan(own)))
        least = max(LEAST_BINS, int(_ENOUGH * bins), 4 * (self.play + 3))
        if there < least or np.isnan(self.middle).any():
            return float("nan")
        return float(match(own[:there], self.middle[:there], self.play))

    def has_count(self, frames: Frames, played: Frames) -> bool:
        """Whether a log, whole or from its own start on, has as many frames as the runs of a scene that plays a fixed set."""
        from_start = abs(len(played) - self.stretch.skip - self.stretch.length)
        return self.stretch.pace == FRAMES and min(from_start, abs(len(frames) - self.frames)) <= SAME_COUNT

    def follows(self, found: float) -> bool:
        """Whether a match is what the scene's own runs have. A scene without a marked course says nothing, so yes."""
        marked = bool(self.usual >= CLEAR)  # False for NaN
        return not marked or found >= SHARE_OF_USUAL * self.usual


@dataclass(frozen=True, slots=True)
class Likeness(Generic[S]):
    """What a log looks like. clear : the one scene that it shows beyond doubt, else None. unlike : it does not follow the scene
    that was hoped for. matches : scene -> match, of those that were compared.
    """

    clear: S | None
    unlike: bool
    matches: Mapping[S, float]


def likeness(frames: Frames, hoped: S | None, references: Mapping[S, Reference]) -> Likeness[S]:
    """Compare a log with the scene that is hoped for and, unless it clearly is that, with all others."""
    own = references.get(hoped) if hoped is not None else None
    played = frames.cut(find_start(frames).frame, len(frames))
    first = own.match(played) if own else float("nan")
    if own and hoped is not None and first >= CLEAR and own.follows(first):
        return Likeness(hoped, False, {hoped: first})
    matches = {scene: first if scene == hoped else ref.match(played) for scene, ref in references.items()}
    known = {scene: found for scene, found in matches.items() if np.isfinite(found)}
    unlike = own is not None and np.isfinite(first) and not own.follows(first)
    if not known:
        return Likeness(None, unlike, matches)
    best = max(known, key=lambda scene: known[scene])
    second = max((found for scene, found in known.items() if scene != best), default=-np.inf)
    if known[best] >= CLEAR and known[best] >= second + LEAD and references[best].follows(known[best]):
        return Likeness(best, unlike, matches)
    alike = [scene for scene, ref in references.items() if ref.has_count(frames, played)]
    by_count = len(alike) == 1 and known[best] < CLEAR and not matches[alike[0]] < AGAINST
    told = alike[0] if by_count else None
    return Likeness(told, unlike and told != hoped, matches)


def _shape(row: Floats) -> Floats:
    """A course without its pace."""
    return row - np.nanmedian(row)


def _after(frames: Frames, skip: float, by_frames: bool) -> Frames:
    """The frames after those that a stretch passes over; at least one."""
    first = int(skip) if by_frames else int(np.searchsorted(frames.ends_s, skip, side="right"))
    return frames.cut(min(first, len(frames) - 1), len(frames))
