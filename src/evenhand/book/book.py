"""The study folder: one object for everything that a study remembers.

    study.toml    the question, written by people
    book.sqlite   the ledger: runs, readings, stretches, standings, events
    originals/    every log as it came
    derived/      frames and measures; can be deleted at any time
    out/          write-ups

Order of every taking in: the original reaches the disk, then the ledger, then derived data. So a run on record always has its
original, and what a dying process leaves behind is at most an original without a run, which the next attempt takes up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import polars as pl

from evenhand.book import ledger
from evenhand.book.bench import BenchRecords
from evenhand.book.connection import Connection
from evenhand.book.derived import Derived, frames_digest
from evenhand.book.durable import make_folder, sync_folder, told, write_whole
from evenhand.book.inbox import InboxRecords
from evenhand.book.model import (
    Added,
    Event,
    NewRun,
    Outcome,
    ReadingRecord,
    RunRecord,
    StandingRecord,
    StretchRecord,
)
from evenhand.book.originals import Originals, digest
from evenhand.book.results import ResultRecords
from evenhand.book.sensors import SensorRecords
from evenhand.errors import BookError, Problem
from evenhand.frames.model import Frames, Recipe, Stretch
from evenhand.screening.model import Standing
from evenhand.study.model import RunKey, Seal

STUDY: Final = "study.toml"
LEDGER: Final = "book.sqlite"


class Book:
    """An open study folder. A context manager; one object per process and thread, several processes may hold one each."""

    def __init__(self, folder: Path, connection: Connection) -> None:
        self.folder = folder
        self._ledger = connection
        self._originals = Originals(folder / "originals")
        self._derived = Derived(folder / "derived")
        self.bench = BenchRecords(connection)
        self.inbox = InboxRecords(connection)
        self.results = ResultRecords(connection, self._originals)
        self.sensors = SensorRecords(connection, self._originals)

    @classmethod
    def create(cls, folder: Path, study_text: str) -> Book:
        """Begin a study in `folder`, which is made where it is missing. Raises BookError where there is a study already."""
        taken = next((name for name in (STUDY, LEDGER) if (folder / name).exists()), None)
        if taken:
            what = f"there is a study here already ({taken})"
            raise BookError(Problem("study-exists", what, str(folder), "name another folder, or work on this study"))
        with told(folder):
            folder.mkdir(parents=True, exist_ok=True)
            write_whole(folder / STUDY, study_text.encode("utf-8"))
            sync_folder(folder.parent)
        book = cls._begin(folder)
        book.note("created", f"study begun in folder {folder.name}")
        return book

    @classmethod
    def open(cls, folder: Path) -> Book:
        """Open a study. A study.toml without a ledger (freshly checked out, say) gets one, unless there are originals already.

        Raises BookError: no study here, ledger lost, damaged, written by a newer Evenhand.
        """
        if (folder / LEDGER).is_file():
            return cls(folder, Connection(folder / LEDGER))
        if not (folder / STUDY).is_file():
            do = "name the folder that holds study.toml, or begin a study with `evenhand new FOLDER`"
            raise BookError(Problem("no-study", f"there is no {STUDY} here", str(folder), do))
        if Originals(folder / "originals").names():
            what = f"originals/ holds logs, but {LEDGER}, which says what they are, is gone"
            do = f"bring {LEDGER} back from a backup; or move originals/ away and take the logs in again"
            raise BookError(Problem("ledger-missing", what, str(folder), do))
        return cls._begin(folder)

    @classmethod
    def _begin(cls, folder: Path) -> Book:
        with told(folder):
            for name in ("originals", "derived", "out"):
                make_folder(folder / name)
        return cls(folder, Connection(folder / LEDGER))

    def close(self) -> None:
        """Close the ledger."""
        self._ledger.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    @property
    def study_file(self) -> Path:
        """Path of study.toml."""
        return self.folder / STUDY

    @property
    def out(self) -> Path:
        """Folder for write-ups, made where it is missing."""
        folder = self.folder / "out"
        folder.mkdir(exist_ok=True)
        return folder

    # --- runs

    def add_run(self, new: NewRun) -> Added:
        """Take in one run; see `add_runs`."""
        return self.add_runs([new])[0]

    def add_runs(self, new: Sequence[NewRun]) -> list[Added]:
        """Take in runs; when this returns they are on the disk.

        The same log under the same key is `ALREADY` there; a key that another log has is a `CLASH`, which leaves the book as it
        was; the same log under another key is taken in, noted as an event and named in `twins`. Raises BookError (disk full,
        ledger busy); then none of them is in the ledger.
        """
        with told(self.folder):
            make_folder(self._originals.folder)
            names = [digest(run.log) for run in new]
            for run, sha256 in zip(new, names, strict=True):
                if not self._clashes(run.key, sha256):
                    self._originals.put(run.log)
        with self._ledger.writing():
            added = [self._add(run, sha256) for run, sha256 in zip(new, names, strict=True)]
        for run, outcome in zip(new, added, strict=True):
            if outcome.outcome is Outcome.TAKEN:
                self._derived.keep_frames(run.reading.frames, frames_digest(run.reading.frames))
        return added

    def _clashes(self, key: RunKey, sha256: str) -> bool:
        there = ledger.run_of(self._ledger, key)
        return there is not None and there.sha256 != sha256

    def _add(self, new: NewRun, sha256: str) -> Added:
        there = ledger.run_of(self._ledger, new.key)
        if there:
            return Added(Outcome.ALREADY if there.sha256 == sha256 else Outcome.CLASH, there)
        twins = tuple(run.key for run in ledger.runs_of_log(self._ledger, sha256))
        ledger.add_log(self._ledger, sha256, len(new.log))
        number = ledger.add_run(self._ledger, new.key, sha256, new.source, new.proven, new.started)
        ledger.add_reading(self._ledger, _reading(number, new))
        if twins:
            others = ", ".join(map(str, twins))
            ledger.add_event(self._ledger, "same-log", f"{new.key} is the very same log as {others}")
        run = ledger.run_of(self._ledger, new.key)
        assert run is not None
        return Added(Outcome.TAKEN, run, twins)

    def runs(self) -> tuple[RunRecord, ...]:
        """All runs in the order in which they were taken in, whatever their standing."""
        return ledger.runs(self._ledger)

    def run(self, key: RunKey) -> RunRecord | None:
        """The run on record under a key."""
        return ledger.run_of(self._ledger, key)

    def runs_of_log(self, sha256: str) -> tuple[RunRecord, ...]:
        """Runs that are these very bytes."""
        return ledger.runs_of_log(self._ledger, sha256)

    def next_run(self, key: RunKey) -> int:
        """The first run number that is free in a key's cell and visit."""
        return ledger.next_run(self._ledger, key)

    # --- logs and frames

    def original(self, sha256: str) -> bytes:
        """A log exactly as it came. Raises BookError when it is gone or damaged."""
        return self._originals.get(sha256)

    def mend_original(self, log: bytes) -> bool:
        """Put a log that is on record back where its original is gone or damaged. False: no run is this log."""
        if not ledger.runs_of_log(self._ledger, digest(log)):
            return False
        with told(self.folder):
            make_folder(self._originals.folder)
            self._originals.put(log)
        return True

    def strays(self) -> frozenset[str]:
        """Names of originals that no run is: left by a process that died before the ledger was written."""
        sensors = {place.sha256 for place in self.sensors.by_run().values()}
        return self._originals.names() - sensors - {run.sha256 for run in self.runs()}

    def readings(self) -> Mapping[int, ReadingRecord]:
        """How the log of each run is read, by the run's number."""
        return ledger.readings(self._ledger)

    def read_anew(self, new: NewRun) -> bool:
        """Put on record that a run's log is from now on read as `new` says (a person's choice, or a newer reader's).

        False, and nothing is put on record, where that gives the same frames as before. Raises BookError: no such run.
        """
        run = ledger.run_of(self._ledger, new.key)
        if run is None:
            raise BookError(Problem("no-such-run", f"{new.key} is not in the book", new.source, "take it in first"))
        reading = _reading(run.id, new)
        before = self.readings()[run.id]
        if reading.frames_sha256 == before.frames_sha256:
            return False
        with self._ledger.writing():
            ledger.add_reading(self._ledger, reading)
            text = f"{new.key} read anew: {before.frames} frames ({before.account}) became {reading.frames} ({reading.account})"
            ledger.add_event(self._ledger, "reading", text)
        self._derived.keep_frames(new.reading.frames, reading.frames_sha256)
        return True

    def recipes(self) -> Mapping[str, Recipe]:
        """What was settled about unclear layouts, by their shape."""
        return ledger.recipes(self._ledger)

    def remember_recipe(self, recipe: Recipe) -> None:
        """Settle a layout, unless it is settled so already."""
        if self.recipes().get(recipe.shape) == recipe:
            return
        with self._ledger.writing():
            ledger.add_recipe(self._ledger, recipe)
            ledger.add_event(self._ledger, "recipe", f"column {recipe.column} is a {recipe.role} in {recipe.unit}")

    # --- decisions

    def stretches(self) -> dict[str, Stretch]:
        """The stretch that counts for each scene that has one, by "title/scene"."""
        return {scene: record.stretch for scene, record in self.stretch_records().items()}

    def stretch_records(self) -> Mapping[str, StretchRecord]:
        """The same as decisions on record."""
        return ledger.stretches(self._ledger)

    def stretch(self, scene: str) -> Stretch | None:
        """The stretch that counts of a scene "title/scene"; None while nothing was decided."""
        return self.stretches().get(scene)

    def decide_stretch(self, stretch: Stretch, *, again: bool = False) -> Stretch:
        """Fix which stretch of a scene counts; returns the one that counts.

        Where a stretch is fixed already it stays (two processes may propose at once), unless `again`.
        """
        with self._ledger.writing():
            there = self.stretch(stretch.scene)
            if there and not again:
                return there
            ledger.add_stretch(self._ledger, stretch)
            why = f": {stretch.why}" if stretch.why else ""
            ledger.add_event(self._ledger, "stretch", f"stretch of {stretch.scene} fixed by {stretch.decided_by}{why}")
        return stretch

    def standings(self) -> dict[int, StandingRecord]:
        """The latest decision about each run that has one, by the run's number."""
        return {record.run_id: record for record in ledger.standings(self._ledger)}

    def decisions(self) -> Sequence[StandingRecord]:
        """Every decision about every run, oldest first."""
        return ledger.standings(self._ledger)

    def set_standing(self, run: RunRecord, standing: Standing, by: str, why: str) -> StandingRecord:
        """Decide about a run; earlier decisions stay on record."""
        with self._ledger.writing():
            ledger.add_standing(self._ledger, run.id, standing, by, why)
            ledger.add_event(self._ledger, "standing", f"{run.key}: {standing} by {by}{f' ({why})' if why else ''}")
        return self.standings()[run.id]

    def seals(self) -> tuple[Seal, ...]:
        """Every protocol that was sealed, oldest first."""
        return ledger.seals(self._ledger)

    def seal(self, text: str, sha256: str, by: str, *, at_hand: int = 0, why: str | None = None) -> Seal:
        """Seal a protocol; returns the seal that counts. why : reason of an amendment; without one a seal that is there stays
        (two processes may seal at once).
        """
        with self._ledger.writing():
            if why is None and (there := self.seals()):
                return there[-1]
            ledger.add_seal(self._ledger, sha256, text, at_hand, by, why or "")
            ledger.add_event(self._ledger, "sealed", f"protocol sealed as {sha256[:16]}… by {by}{f': {why}' if why else ''}")
        return self.seals()[-1]

    def events(self) -> tuple[Event, ...]:
        """Everything that happened to the book, oldest first."""
        return ledger.events(self._ledger)

    def note(self, kind: str, text: str) -> None:
        """Put something on record that happened."""
        with self._ledger.writing():
            ledger.add_event(self._ledger, kind, text)

    # --- derived data

    def kept_frames(self, frames_sha256: str) -> Frames | None:
        """Frames from derived/; None when the original must be read again."""
        return self._derived.frames(frames_sha256)

    def keep_frames(self, frames: Frames) -> None:
        """Keep frames in derived/."""
        self._derived.keep_frames(frames, frames_digest(frames))

    def kept_table(self, name: str) -> pl.DataFrame | None:
        """A table from derived/; None when it must be made again."""
        return self._derived.table(name)

    def keep_table(self, name: str, table: pl.DataFrame) -> None:
        """Keep a table in derived/."""
        self._derived.keep_table(name, table)

    def tidy(self) -> None:
        """Remove what died processes left half-written, and derived frames that no run has (any more)."""
        self._originals.sweep()
        self._derived.tidy({reading.frames_sha256 for reading in self.readings().values()})


def _reading(run_id: int, new: NewRun) -> ReadingRecord:
    reading = new.reading
    return ReadingRecord(
        id=0,
        run_id=run_id,
        recipe=new.recipe,
        skip_bad_rows=new.skip_bad_rows,
        sampled=reading.sampled,
        bad_rows=len(reading.bad_rows),
        frames=len(reading.frames),
        total_ns=int(reading.frames.ns.sum()),
        frames_sha256=frames_digest(reading.frames),
        account=reading.account,
        at="",
        version="",
    )
