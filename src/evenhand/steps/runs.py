"""The run as the steps hand it from one room to the next, and what the judge is told about it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from evenhand.book.model import StandingRecord
from evenhand.frames.model import Cut, Frames
from evenhand.judging.model import Row
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.compute import pool
from evenhand.measures.lows import FEWEST_DECIDING
from evenhand.measures.model import RunMeasures
from evenhand.screening.model import ScreenedRun, Standing
from evenhand.steps.scenes import scene_of
from evenhand.study.model import RunKey, Study


@dataclass(frozen=True, slots=True, eq=False)
class StudyRun:
    """One run with everything that was made of it.

    decided : the latest decision about it, None while nobody decided (then it is kept). position : seconds since 1970 when it
    was recorded, or its order of arrival; None if unknown.
    proven : a snapshot confirmed the setup. warm_up : dropped by the protocol.
    """

    key: RunKey
    whole: Frames
    cut: Cut
    measures: RunMeasures
    sha256: str
    source: str
    account: str
    decided: StandingRecord | None = None
    position: float | None = None
    proven: bool = False
    sampled: bool = False
    warm_up: bool = False
    bad_rows: int = 0

    @property
    def standing(self) -> Standing:
        """What counts now."""
        return self.decided.standing if self.decided else Standing.KEPT

    @property
    def counts(self) -> bool:
        """Whether the judge sees it."""
        return self.standing is Standing.KEPT and not self.warm_up


def mark_warm_up(study: Study, runs: Iterable[StudyRun]) -> tuple[StudyRun, ...]:
    """The same runs, with those that the protocol calls warm-up marked."""
    first = study.protocol.warmup_runs
    return tuple(replace(r, warm_up=r.key.run <= first) for r in runs)


def screened(study: Study, runs: Sequence[StudyRun]) -> tuple[ScreenedRun, ...]:
    """The runs as the checks see them; logs of one row a polling period have no frames to check."""
    return tuple(
        ScreenedRun(
            key=r.key,
            scene=scene_of(study, r.key),
            whole=r.whole,
            cut=r.cut,
            sha256=r.sha256,
            position=r.position,
            bad_rows=r.bad_rows,
        )
        for r in runs
        if not r.sampled
    )


def rows(study: Study, runs: Iterable[StudyRun]) -> list[Row]:
    """What the judge reads: a row for each run and measure.

    A low that rests on too few frames of a single run is stated once a visit instead, from the visit's frames put together.
    """
    made: list[Row] = []
    visits: dict[tuple[str, str, str, int], list[StudyRun]] = defaultdict(list)
    for r in runs:
        visits[r.key.title, r.key.scene, r.key.setup, r.key.visit].append(r)
    for (title, scene, setup, visit), members in visits.items():
        short = {name for r in members for name in r.measures.too_short}
        for r in members:
            allowed = ("average",) if r.sampled else tuple(CATALOGUE)
            made += [
                Row(title=title, scene=scene, setup=setup, visit=visit, run=r.key.run, measure=m, value=r.measures.values[m])
                for m in allowed
                if m not in short
            ]
        framed = [r.cut.counted for r in members if not r.sampled]
        if short and framed:
            together = pool(framed, study.target_rate).values
            made += [
                Row(title=title, scene=scene, setup=setup, visit=visit, run=members[0].key.run, measure=m, value=together[m])
                for m in CATALOGUE
                if m in short
            ]
    return made


def few_frames(runs: Iterable[StudyRun]) -> dict[tuple[str, str], int]:
    """(title, measure) -> the fewest frames of a visit that decide a low there, of those that too few decide to be stated."""
    deciding: dict[tuple[str, str, str, int], Counter[str]] = defaultdict(Counter)
    for r in (r for r in runs if r.counts and not r.sampled):
        deciding[r.key.title, r.key.scene, r.key.setup, r.key.visit].update(r.measures.tail_counts)
    fewest: dict[tuple[str, str], int] = {}
    for (title, _, _, _), counts in deciding.items():
        for measure, count in counts.items():
            if count < FEWEST_DECIDING:
                fewest[title, measure] = min(count, fewest.get((title, measure), count))
    return fewest
