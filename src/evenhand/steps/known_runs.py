"""The runs that a book has, kept at hand while logs come in: what a new one is compared with.

Frames are read from derived/ once, scene by scene as scenes are asked for, and only what is new after that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final, TypeAlias

from evenhand.book.book import Book
from evenhand.book.model import ReadingRecord, RunRecord
from evenhand.frames.model import Cut, Frames, Reading, Stretch
from evenhand.frames.stretch import apply, propose
from evenhand.screening.model import Flag, ScreenedRun, Standing
from evenhand.screening.screen import screen
from evenhand.screening.which_scene import Reference
from evenhand.steps.readings import frames_of
from evenhand.steps.scenes import scene_of
from evenhand.steps.stretches import known
from evenhand.study.model import RunKey, Study

Place: TypeAlias = tuple[str, str]  # title, scene

#: So many of a scene's runs, the latest, are enough to know its course, and to screen another one by.
FOR_COURSE: Final = 12
FOR_CHECKS: Final = 60


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """One run on record with its frames."""

    record: RunRecord
    frames: Frames
    bad_rows: int


class KnownRuns:
    """The runs of one open book. Call `refresh` before a new log is looked at."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._records: dict[int, RunRecord] = {}
        self._readings: dict[int, ReadingRecord] = {}
        self._out: set[int] = set()
        self._doubtful: set[int] = set()
        self._fills: dict[RunKey, bool] = {}
        self._frames: dict[int, Frames] = {}
        self._cuts: dict[int, tuple[Stretch, Cut]] = {}
        self._references: dict[Place, tuple[tuple[int, ...], Reference]] = {}
        self.study: Study

    def refresh(self, study: Study) -> None:
        """See what the ledger holds now. Cheap: no frames are read."""
        self.study = study
        records = [run for run in self._book.runs() if known(study, run.key)]
        self._readings = dict(self._book.readings())
        self._records = {run.id: run for run in records if run.id in self._readings}
        decided = {number: d.standing for number, d in self._book.standings().items()}
        self._doubtful = {number for number in self._book.inbox.doubtful() if number not in decided}
        self._out = {number for number, standing in decided.items() if standing is not Standing.KEPT}
        self._fills = {run.key: run.id not in self._out | self._doubtful for run in records}

    @property
    def fills(self) -> dict[RunKey, bool]:
        """Every run that the study names -> whether it fills its place: neither left out nor in doubt since it came."""
        return self._fills

    def stretch(self, place: Place, also: Iterable[Frames] = ()) -> Stretch:
        """The stretch that counts of a scene; where none is fixed yet, what would be proposed now. ValueError without a run."""
        fixed = self._book.stretch("/".join(place))
        if fixed:
            return fixed
        pace = next(s.pace.value for s in self.study.title(place[0]).scenes if s.name == place[1])
        return propose("/".join(place), pace, [*(k.frames for k in self._of(place, FOR_COURSE)), *also])

    def references(self) -> dict[Place, Reference]:
        """The usual course of every scene that has a run."""
        return {place: self._reference(place) for place in dict.fromkeys((r.key.title, r.key.scene) for r in self._usable())}

    def flags(self, key: RunKey, reading: Reading, sha256: str, started: str | None) -> tuple[Flag, ...]:
        """What the checks say of a new run beside the other runs of its scene."""
        place = (key.title, key.scene)
        stretch = self.stretch(place, [reading.frames])
        others = [self._screened(k, stretch) for k in self._of(place, FOR_CHECKS, doubtful=True) if k.record.sha256 != sha256]
        at = datetime.fromisoformat(started).timestamp() if started else None
        cut, scene = apply(reading.frames, stretch), scene_of(self.study, key)
        new = ScreenedRun(key, scene, reading.frames, cut, sha256, at, len(reading.bad_rows))
        found = screen([*(o for o in others if o.key != key), new])
        return tuple(flag for flag in found.flags if key in (flag.run, *flag.covers))

    def _reference(self, place: Place) -> Reference:
        own = self._of(place, FOR_COURSE)
        numbers = tuple(k.record.id for k in own)
        there = self._references.get(place)
        if there is None or there[0] != numbers:
            stretch = self.stretch(place)
            there = (numbers, Reference.of(stretch, [k.frames for k in own], [self._cut(k, stretch) for k in own]))
            self._references[place] = there
        return there[1]

    def _usable(self, doubtful: bool = False) -> list[RunRecord]:
        """Runs of which every frame is known, without those that were decided against and, unless asked for, those in doubt.

        For the checks a run in doubt is a run like others, as it is for `evenhand screen`: left out, it would make the rest look
        more alike than runs are.
        """
        out = self._out if doubtful else self._out | self._doubtful
        return [r for r in self._records.values() if r.id not in out and not self._readings[r.id].sampled]

    def _of(self, place: Place, most: int, *, doubtful: bool = False) -> list[_Kept]:
        own = [r for r in self._usable(doubtful) if (r.key.title, r.key.scene) == place][-most:]
        return [_Kept(r, self._loaded(r), self._readings[r.id].bad_rows) for r in own]

    def _loaded(self, record: RunRecord) -> Frames:
        if record.id not in self._frames:
            self._frames[record.id] = frames_of(self._book, record, self._readings[record.id])
        return self._frames[record.id]

    def _cut(self, kept: _Kept, stretch: Stretch) -> Cut:
        """The stretch applied to a run; remembered, since lining a run up takes longer than all checks of it."""
        there = self._cuts.get(kept.record.id)
        if there is None or there[0] != stretch:
            there = (stretch, apply(kept.frames, stretch))
            self._cuts[kept.record.id] = there
        return there[1]

    def _screened(self, kept: _Kept, stretch: Stretch) -> ScreenedRun:
        record = kept.record
        at = datetime.fromisoformat(record.started).timestamp() if record.started else None
        scene = scene_of(self.study, record.key)
        return ScreenedRun(record.key, scene, kept.frames, self._cut(kept, stretch), record.sha256, at, kept.bad_rows)
