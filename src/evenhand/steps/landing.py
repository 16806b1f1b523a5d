"""One finished file becomes a run: read, matched, screened, taken in, and told in one line."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import Final

from evenhand.book.book import Book
from evenhand.book.inbox import Became, InboxRecord
from evenhand.book.model import RunRecord
from evenhand.book.originals import digest
from evenhand.errors import LogError, StudyError, UsageError
from evenhand.frames.load import load_bytes
from evenhand.frames.model import Reading
from evenhand.frames.stretch import apply
from evenhand.measures.catalogue import low_key
from evenhand.measures.compute import measure_run
from evenhand.planning.expected import scenes_of
from evenhand.planning.minutes import practice_runs
from evenhand.screening.model import Flag, Standing
from evenhand.steps.addresses import Address
from evenhand.steps.arrivals import Stamp
from evenhand.steps.folder import stamp_of
from evenhand.steps.known_runs import KnownRuns
from evenhand.steps.matching import Matched, Visit, Wanted, among, label, match, visit_at_hand, wanted
from evenhand.steps.plans import kept_plan
from evenhand.steps.proving import from_inbox
from evenhand.steps.readings import UNSAID, Choices, read_settled
from evenhand.steps.scenes import scene_of
from evenhand.steps.take import Read, started_of, take
from evenhand.study.model import RunKey, Study
from evenhand.study.read import read_study
from evenhand.study.sieve import sieve
from evenhand.writeup import arrival_words as words

#: Who marks a run whose log went on after it was taken.
ITSELF: Final = "evenhand watch"
#: How a log ends that does not end within a row.
LINE_ENDS: Final = (b"\n", b"\r", b"\n\x00")


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one file. line : for people. reasons : slugs of checks, likeliest first. replaces : a run that is to be
    redone because its log went on. average, low : frames per second.
    """

    file: str
    became: Became
    line: str
    run: RunKey | None = None
    reasons: tuple[str, ...] = ()
    filled: int | None = None
    planned: int | None = None
    average: float | None = None
    low: float | None = None
    replaces: RunKey | None = None


class Desk:
    """Where files land: an open book, what is known of its runs, and what the person said of all logs to come."""

    def __init__(
        self,
        book: Book,
        stated: Address,
        *,
        pattern: str | None = None,
        choices: Choices = UNSAID,
        although: str | None = None,
    ) -> None:
        self._book, self._stated, self._pattern, self._choices, self._although = book, stated, pattern, choices, although
        self._known = KnownRuns(book)
        self._unended = False  # logs here end without a line's end, and are whole all the same
        self.study = read_study(book.study_file)

    def wanted(self, moment: float | None = None) -> Wanted:
        """What the visit at hand misses now. Raises UsageError where no visit is at hand.

        While study.toml is being edited and cannot be read, the study is what it was before.
        """
        with contextlib.suppress(StudyError):
            self.study = read_study(self._book.study_file)
        self._known.refresh(self.study)
        visit = visit_at_hand(self._book, self.study, self._stated, moment)
        return wanted(self.study, kept_plan(self._book), self._known.fills, visit, self._stated, self._pattern)

    def land(self, path: Path, name: PurePath, *, sure: bool = True, at: float | None = None) -> Told | None:
        """Take one file in. name : the file's path as far as it may say which run it is. at : when it was recorded, seconds since
        1970; None = now. None is returned where it is not `sure` that the file is whole, and it would be spoiled as it is.

        Raises BookError; UsageError where no visit is at hand.
        """
        try:
            stamp = stamp_of(path)
            if sieve([name])[1]:
                return self._aside(path, stamp, "", Became.LEFT_OUT, "")
            log = load_bytes(path)
            sha256 = digest(log)
            there = next(iter(self._book.runs_of_log(sha256)), None)
            if there and not self._untold(there, path):
                return self._already(there, path, stamp, sha256)
            if not (sure or self._unended or log.endswith(LINE_ENDS)):
                return None
            reading, recipe = read_settled(log, path.name, self._choices, self._book.recipes(), self._seconds())
            if stamp_of(path) != stamp:
                return None
        except OSError as error:
            return self._refused(path, error.strerror or "it is gone") if sure else None
        except LogError as error:
            return self._refused(path, error.problems[0].what) if sure else None
        one = _One(path, name, stamp, sha256, Read(log, reading, recipe), there)
        try:
            want = self.wanted(at)
        except UsageError:
            if at is None:
                raise
            return self._aside(path, stamp, sha256, Became.UNMATCHED, "recorded before any visit began")
        return self._matched(one, want, sure)

    def snapshot(self, path: Path) -> Told:
        """A snapshot of the PC in the study's inbox. Raises OSError."""
        new = from_inbox(self._book, self.study)
        line = words.snapshot(path.name) if new else ""
        return replace(self._aside(path, stamp_of(path), "", Became.SNAPSHOT, ""), line=line)

    def _seconds(self) -> float | None:
        """Length of the scene where only one can be meant."""
        scenes = [scene for title in self.study.titles for scene in title.scenes]
        return scenes[0].seconds if len(scenes) == 1 else None

    def _matched(self, one: _One, want: Wanted, sure: bool) -> Told | None:
        went_on, reading = self._went_on(one), one.read.reading
        if one.there:
            found = Matched(one.there.key)
        elif went_on:
            found = Matched(replace(went_on.key, run=self._book.next_run(went_on.key)))
        else:
            found = match(one.name, reading.frames, want, {} if reading.sampled else self._known.references())
        if found.key is None:
            return self._aside(one.path, one.stamp, one.sha256, Became.UNMATCHED, found.why)
        flags = () if reading.sampled else self._known.flags(found.key, reading, one.sha256, started_of(reading))
        spoiled = words.spoiled(flags)
        if spoiled and spoiled.check == "too-short" and not sure:
            return None
        if went_on:
            self._redo(went_on, one)
        report = take(
            self._book,
            self.study,
            {one.path: found.key},
            choices=self._choices,
            numbered=False,
            read={one.path: one.read},
            although=self._although,
        )
        if report.refused:
            return self._refused(one.path, report.refused[0].problems[0].what, one.stamp, one.sha256)
        run = (report.taken or report.already)[0].run
        self._unended = self._unended or not one.read.log.endswith(LINE_ENDS)
        became = Became.DOUBTFUL if spoiled else Became.KEPT
        self._note(one, became, run.id, words.reason(spoiled) if spoiled else "")
        told = self._told(one, run.key, found, flags, became)
        return replace(told, replaces=went_on.key, line=f"it went on: {told.line}") if went_on else told

    def _told(self, one: _One, key: RunKey, found: Matched, flags: Sequence[Flag], became: Became) -> Told:
        want = wanted_of(self._book, self._known, self.study, Visit(key.setup, key.visit))
        scenes = scenes_of(self.study, kept_plan(self._book), (key.setup, key.visit))
        planned = next((s.runs for s in scenes if (s.title, s.scene) == (key.title, key.scene)), 0)
        average, low = self._measured(key, one.read.reading)
        spoiled = words.spoiled(flags)
        filled = planned - among(want.missing, key)
        scene = scene_of(self.study, key)
        said = words.Landed(
            place=label(self.study, (key.title, key.scene)),
            setup=key.setup,
            filled=filled,
            planned=planned,
            average=average,
            low=low,
            instead=label(self.study, found.not_this) if found.not_this else None,
            spoiled=spoiled,
            cautions=words.cautions(flags),
            warm_up=key.run <= practice_runs(self.study, scene),
            complete=not want.missing,
        )
        reasons = spoiled.reasons if spoiled else ()
        return Told(str(one.path), became, words.landed(said), key, reasons, filled, planned, average, low)

    def _measured(self, key: RunKey, reading: Reading) -> tuple[float, float | None]:
        """Average and 1 % low of the stretch that counts, by the study's definition."""
        cut = apply(reading.frames, self._known.stretch((key.title, key.scene)))
        values = measure_run(cut.counted, self.study.target_rate).values
        return values["average"], None if reading.sampled else values[low_key(self.study.low.value)]

    def _went_on(self, one: _One) -> RunRecord | None:
        """The run that this file was when it was shorter."""
        before = self._book.inbox.files().get(str(one.path))
        if before is None or before.run_id is None or before.size >= one.stamp.size:
            return None
        if digest(one.read.log[: before.size]) != before.sha256:
            return None
        return next((run for run in self._book.runs() if run.id == before.run_id), None)

    def _redo(self, run: RunRecord, one: _One) -> None:
        there = self._book.standings().get(run.id)
        if there is None or there.standing is Standing.KEPT:
            why = f"its log went on after it was taken in: {one.path.name} has {one.stamp.size} bytes now"
            self._book.set_standing(run, Standing.REDO, ITSELF, why)

    def _untold(self, run: RunRecord, path: Path) -> bool:
        """Whether a run was made of this file by a watch that died before it said so."""
        return run.source == str(path) and all(record.run_id != run.id for record in self._book.inbox.files().values())

    def _already(self, run: RunRecord, path: Path, stamp: Stamp, sha256: str) -> Told:
        self._book.inbox.add([InboxRecord(str(path), stamp.size, stamp.mtime_ns, sha256, Became.ALREADY, run.id)])
        return Told(str(path), Became.ALREADY, words.already(str(run.key), path.name), run.key)

    def _refused(self, path: Path, why: str, stamp: Stamp | None = None, sha256: str = "") -> Told:
        try:
            return self._aside(path, stamp or stamp_of(path), sha256, Became.REFUSED, why)
        except OSError:
            return Told(str(path), Became.REFUSED, words.refused(path.name, why))

    def _aside(self, path: Path, stamp: Stamp, sha256: str, became: Became, why: str) -> Told:
        self._book.inbox.add([InboxRecord(str(path), stamp.size, stamp.mtime_ns, sha256, became, None, why)])
        line = words.unmatched(path.name, why) if became is Became.UNMATCHED else words.refused(path.name, why)
        return Told(str(path), became, "" if became is Became.LEFT_OUT else line)

    def _note(self, one: _One, became: Became, run: int, why: str) -> None:
        self._book.inbox.add([InboxRecord(str(one.path), one.stamp.size, one.stamp.mtime_ns, one.sha256, became, run, why)])
        self._known.refresh(self.study)


@dataclass(frozen=True, slots=True, eq=False)
class _One:
    """A file that was read. there : the run that it is already, untold."""

    path: Path
    name: PurePath
    stamp: Stamp
    sha256: str
    read: Read
    there: RunRecord | None


def wanted_of(book: Book, known: KnownRuns, study: Study, visit: Visit) -> Wanted:
    """What a visit misses, whatever the person said of logs to come."""
    return wanted(study, kept_plan(book), known.fills, visit, Address())


def waiting(book: Book) -> Iterator[InboxRecord]:
    """Files that were kept aside and that no run is yet."""
    for record in book.inbox.files().values():
        if record.became is Became.UNMATCHED and not book.runs_of_log(record.sha256):
            yield record
