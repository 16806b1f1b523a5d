"""The run as the steps hand it from one room to the next, and what the judge is told about it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from evenhand.book.model import StandingRecord
from evenhand.frames.model import Cut, Frames
from evenhand.judging.model import Row
from evenhand.measures.catalogue import FRAMED
from evenhand.measures.compute import pool
from evenhand.measures.lows import FEWEST_DECIDING
from evenhand.measures.model import RunMeasures, RunSensors
from evenhand.planning.minutes import practice_runs
from evenhand.screening.model import ScreenedRun, Screening, Standing
from evenhand.screening.screen import screen
from evenhand.steps.scenes import scene_of
from evenhand.study.model import RunKey, Study
from evenhand.wording import counted


@dataclass(frozen=True, slots=True, eq=False)
class StudyRun:
    """One run with everything that was made of it; without frames where it came as a result.

    decided : the latest decision about it, None while nobody decided (then it is kept). position : seconds since 1970 when it
    was recorded, or its order of arrival; None if unknown.
    proven : a snapshot confirmed the setup. warm_up : dropped by the protocol. sensors : what they said of it, if they did.
    """

    key: RunKey
    measures: RunMeasures
    sha256: str
    source: str
    account: str
    decided: StandingRecord | None = None
    position: float | None = None
    proven: bool = False
    warm_up: bool = False
    sensors: RunSensors | None = None

    @property
    def standing(self) -> Standing:
        """What counts now."""
        return self.decided.standing if self.decided else Standing.KEPT

    @property
    def counts(self) -> bool:
        """Whether the judge sees it."""
        return self.standing is Standing.KEPT and not self.warm_up


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LoggedRun(StudyRun):
    """One run that came as a log. whole : all that was read of it; cut : what counts. sampled : a row a polling period."""

    whole: Frames
    cut: Cut
    sampled: bool = False
    bad_rows: int = 0


def framed(runs: Iterable[StudyRun]) -> Iterator[LoggedRun]:
    """The runs of which every frame is known: neither results nor logs of one row a polling period."""
    return (r for r in runs if isinstance(r, LoggedRun) and not r.sampled)


def mark_warm_up(study: Study, runs: Iterable[StudyRun]) -> tuple[StudyRun, ...]:
    """The same runs, with those marked that never count: the scene's practice runs, or else the protocol's warm-up runs."""
    return tuple(replace(r, warm_up=r.key.run <= practice_runs(study, scene_of(study, r.key))) for r in runs)


def checked(study: Study, runs: Sequence[StudyRun]) -> Screening:
    """What the checks found, and which runs they could not look at."""
    found = screen(screened(study, runs))
    return replace(found, untold=(*found.untold, *_unseen(study, runs)))


def _unseen(study: Study, runs: Sequence[StudyRun]) -> Iterator[str]:
    """Scenes with runs that are results, and whether others have frames: two ways of measuring may differ by themselves."""
    for title in study.titles:
        for scene in title.scenes:
            own = [r for r in runs if (r.key.title, r.key.scene) == (title.name, scene.name)]
            results = sum(not isinstance(r, LoggedRun) for r in own)
            if not results:
                continue
            name = title.name if scene.name == title.name else f"{title.name}/{scene.name}"
            verb = "is a result" if results == 1 else "are results"
            said = f"{name}: {counted(results, 'run')} {verb} without frames, not screened by frames"
            rest = "" if results == len(own) else "; its other runs have frames, and the two ways of measuring may differ"
            yield said + rest


def screened(study: Study, runs: Sequence[StudyRun]) -> tuple[ScreenedRun, ...]:
    """The runs as the checks see them: those of which every frame is known."""
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
        for r in framed(runs)
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
            allowed = ("average",) if isinstance(r, LoggedRun) and r.sampled else tuple(r.measures.values)
            made += [
                Row(title=title, scene=scene, setup=setup, visit=visit, run=r.key.run, measure=m, value=r.measures.values[m])
                for m in allowed
                if m not in short
            ]
        counted_frames = [r.cut.counted for r in framed(members)]
        if short and counted_frames:
            together = pool(counted_frames, study.target_rate).values
            made += [
                Row(title=title, scene=scene, setup=setup, visit=visit, run=members[0].key.run, measure=m, value=together[m])
                for m in FRAMED
                if m in short
            ]
    return made


def few_frames(runs: Iterable[StudyRun]) -> dict[tuple[str, str], int]:
    """(title, measure) -> the fewest frames of a visit that decide a low there, of those that too few decide to be stated."""
    deciding: dict[tuple[str, str, str, int], Counter[str]] = defaultdict(Counter)
    for r in (r for r in framed(runs) if r.counts):
        deciding[r.key.title, r.key.scene, r.key.setup, r.key.visit].update(r.measures.tail_counts)
    fewest: dict[tuple[str, str], int] = {}
    for (title, _, _, _), counts in deciding.items():
        for measure, count in counts.items():
            if count < FEWEST_DECIDING:
                fewest[title, measure] = min(count, fewest.get((title, measure), count))
    return fewest
