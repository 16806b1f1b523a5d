"""Make all derived data anew from originals and ledger, and say whether every number came out the same to the last bit."""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.book.book import Book
from evenhand.book.derived import frames_digest
from evenhand.book.model import NewRun, ReadingRecord, ResultRecord, RunRecord
from evenhand.errors import BookError, EvenhandError, Problem
from evenhand.steps.measured import Made, Numbers, kept_numbers, made_runs
from evenhand.steps.readings import read_again
from evenhand.steps.results import result_at
from evenhand.steps.standing import who
from evenhand.steps.stretches import decide_again
from evenhand.steps.take import Progress
from evenhand.study.model import RunKey, Study
from evenhand.study.read import read_study
from evenhand.wording import counted

_SHOWN: Final = 12


@dataclass(frozen=True, slots=True)
class Difference:
    """A number that came out otherwise than derived/ had it."""

    run: RunKey
    what: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Otherwise:
    """A run whose log this version reads to other frames than the version that took it in. accepted : the new ones count now."""

    run: RunKey
    by_version: str
    before: int
    after: int
    accepted: bool


@dataclass(frozen=True, slots=True)
class RebuildReport:
    """What rebuilding found.

    runs : runs in the book. compared : runs whose earlier numbers were there to compare with. differ : numbers that changed;
    otherwise : logs read otherwise; damaged : what is wrong with originals; strays : originals that no run is.
    """

    runs: int
    compared: int
    differ: tuple[Difference, ...] = ()
    otherwise: tuple[Otherwise, ...] = ()
    damaged: tuple[Problem, ...] = ()
    strays: int = 0

    @property
    def identical(self) -> bool:
        """Whether nothing came out otherwise and nothing is damaged."""
        return not (self.differ or self.damaged or any(not o.accepted for o in self.otherwise))

    def lines(self) -> tuple[str, ...]:
        """The report for people."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[str]:
        yield f"{counted(self.runs, 'run')}: originals read again, frames and measures made anew."
        if self.compared:
            same = "every number is the same to the last bit" if not self.differ else f"{len(self.differ)} numbers differ"
            yield f"{counted(self.compared, 'run')} compared with what derived/ held: {same}."
        else:
            yield "derived/ held nothing to compare with; the frames are those on record."
        for d in self.differ[:_SHOWN]:
            yield f"  {d.run} {d.what}: {d.before!r} became {d.after!r}"
        for o in self.otherwise:
            counts = "counts from now on" if o.accepted else "does not count until you accept it (--accept)"
            yield f"  {o.run}: taken in by version {o.by_version} as {o.before} frames, now read as {o.after}; this {counts}"
        for problem in self.damaged:
            yield str(problem)
        if self.strays:
            yield f"{counted(self.strays, 'original')} belong to no run: left by a taking in that was cut short. They do no harm."


def rebuild(
    folder: Path, *, accept: bool = False, stretch: str | None = None, by: str | None = None, progress: Progress | None = None
) -> RebuildReport:
    """Make the derived data of the study in `folder` anew.

    accept : where this version reads a log to other frames, let those count from now on. stretch : "title/scene" whose stretch
    is to be proposed anew; by : who wants that, None = the name the person is logged in with.
    Raises UsageError, StudyError, BookError.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        if stretch:
            decide_again(book, study, stretch, by or who(), "proposed anew on request")
        before = kept_numbers(book)
        again = _Again(book, accept, progress)
        again.all()
        compared, differ = again.compared(study, before)
        book.tidy()
        report = RebuildReport(
            runs=len(book.runs()),
            compared=compared,
            differ=differ,
            otherwise=tuple(again.otherwise),
            damaged=tuple(again.damaged),
            strays=len(book.strays()),
        )
        book.note("rebuilt", report.lines()[1])
    return report


class _Again:
    """One rebuilding. Derived frames of a damaged original are left alone: they may be the last copy."""

    def __init__(self, book: Book, accept: bool, progress: Progress | None) -> None:
        self._book, self._accept, self._progress = book, accept, progress
        self.otherwise: list[Otherwise] = []
        self.damaged: list[Problem] = []

    def all(self) -> None:
        """Read every original again and keep its frames."""
        runs, readings, results = self._book.runs(), self._book.readings(), self._book.results.by_run()
        for done, run in enumerate(runs, 1):
            try:
                if run.id in results:
                    self._result(run, results[run.id])
                else:
                    self._one(run, readings[run.id])
            except EvenhandError as error:
                self.damaged += error.problems
            if self._progress:
                self._progress(done, len(runs), str(run.key))
        self._sensors()

    def _sensors(self) -> None:
        """Sensor logs are read anew whenever numbers are asked for; here it shows whether all of them are sound."""
        for sha256 in dict.fromkeys(place.sha256 for place in self._book.sensors.by_run().values()):
            try:
                self._book.original(sha256)
            except EvenhandError as error:
                self.damaged += error.problems

    def _result(self, run: RunRecord, record: ResultRecord) -> None:
        """A result is read again from the table that it stood in."""
        if result_at(self._book.original(run.sha256), Path(run.source), record.line) != record.result:
            what = f"{run.key} was taken in by version {record.version}, and its table is now read otherwise"
            do = "take the version of Evenhand that took it in, and tell its makers"
            self.damaged.append(Problem("reads-otherwise", what, run.source, do))

    def _one(self, run: RunRecord, record: ReadingRecord) -> None:
        log = self._book.original(run.sha256)
        reading = read_again(log, run.source, record)
        if frames_digest(reading.frames) == record.frames_sha256:
            self._book.keep_frames(reading.frames)
            return
        if self._accept:
            self._book.read_anew(NewRun(run.key, log, run.source, reading, record.recipe, record.skip_bad_rows))
        self.otherwise.append(Otherwise(run.key, record.version, record.frames, len(reading.frames), self._accept))

    def compared(self, study: Study, before: Mapping[Made, Numbers]) -> tuple[int, tuple[Difference, ...]]:
        """Make all numbers anew; how many runs could be compared with `before`, and what differs."""
        try:
            runs = made_runs(self._book, study, anew=True)
        except BookError as error:
            self.damaged += [problem for problem in error.problems if problem not in self.damaged]
            return 0, ()
        earlier = {_but_code(made): numbers for made, numbers in before.items()}
        pairs = [(run, earlier[_but_code(run.made)]) for run in runs if _but_code(run.made) in earlier]
        return len(pairs), tuple(d for run, old in pairs for d in _differences(run.record.key, old, run.numbers))


def _but_code(made: Made) -> tuple[str, int, float]:
    """What numbers are made from, but for the code: an update of Evenhand must not change them unnoticed."""
    return made.frames_sha256, made.stretch, made.target_rate


def _differences(key: RunKey, old: Numbers, new: Numbers) -> Iterator[Difference]:
    before, after = _figures(old), _figures(new)
    for what in sorted(before.keys() | after.keys()):
        a, b = before.get(what, math.nan), after.get(what, math.nan)
        same = struct.pack("<d", a) == struct.pack("<d", b)
        if not same and not (math.isnan(a) and math.isnan(b)):
            yield Difference(key, what, a, b)


def _figures(numbers: Numbers) -> dict[str, float]:
    """Every number of a run by name."""
    return {
        **numbers.measures.values,
        **{f"frames that decide {name}": float(count) for name, count in numbers.measures.tail_counts.items()},
        **{"first frame": float(numbers.first), "last frame": float(numbers.last), "lag": numbers.lag_s},
        **{"missing": numbers.missing, "frames": float(numbers.measures.frames), "seconds": numbers.measures.seconds},
    }
