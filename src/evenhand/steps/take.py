"""Take frame logs into the book: originals first, ledger second, derived data last; reported as taken only after that.

One bad log stops no other and leaves no trace in the book. Taking the same log in twice changes nothing.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Protocol

from evenhand.book.book import Book
from evenhand.book.model import Added, NewRun, Outcome, RunRecord
from evenhand.book.originals import digest
from evenhand.errors import LogError, Problem
from evenhand.frames.model import Reading, Recipe
from evenhand.frames.read import load_bytes
from evenhand.steps.addresses import Address, address_logs, find_logs, outside
from evenhand.steps.proving import VisitProofs, from_inbox
from evenhand.steps.proving import moment as begun
from evenhand.steps.readings import UNSAID, Choices, choices_of, read_settled
from evenhand.steps.scenes import recorded_at, scene_of
from evenhand.steps.sealing import seal_first
from evenhand.steps.stretches import settle
from evenhand.steps.take_report import Refusal, TakeReport
from evenhand.steps.title_facts import TitleFacts
from evenhand.study.model import IntervalMeaning, RunKey, Study
from evenhand.study.read import read_study

__all__ = ["Choices", "Progress", "Refusal", "TakeReport", "choices_of", "take", "take_logs"]

#: One commit for as many logs as were read in this time, or up to these bounds: a commit costs a wait for the disk.
GROUP_S: Final = 0.25
GROUP_RUNS: Final = 32
GROUP_BYTES: Final = 32 * 2**20


class Progress(Protocol):
    """Told how far the work is. A log counts as done when it is safe on the disk, or refused."""

    def __call__(self, done: int, total: int, what: str = "") -> None:
        """`done` of `total`; `what` was done last."""


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """A log that was read before it was known which run it is."""

    log: bytes
    reading: Reading
    recipe: Recipe


def take_logs(
    folder: Path,
    logs: Sequence[str | Path],
    *,
    pattern: str | None = None,
    address: tuple[str | None, str | None, str | None, int | None, int | None] = (None, None, None, None, None),
    choices: Choices = UNSAID,
    although: str | None = None,
    progress: Progress | None = None,
) -> TakeReport:
    """Take files, folders and globs into the study in `folder`.

    Which run each log is comes from `address` (title, scene, setup, visit, run), from `pattern`, or from its path.
    although : reason to keep labels that a snapshot of the PC contradicts; their visits are then unproven.
    Raises UsageError, StudyError, BookError; what was reported to `progress` as done until then is safe.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        files = find_logs(logs)
        addressed = address_logs(files, study, pattern=pattern, stated=Address(*address), roots=logs)
        from_inbox(book, study)
        report = take(
            book, study, addressed.keys, choices=choices, numbered=addressed.numbered, although=although, progress=progress
        )
    return replace(report, left_out=addressed.left_out, account=addressed.account)


def take(
    book: Book,
    study: Study,
    keys: Mapping[Path, RunKey],
    *,
    choices: Choices = UNSAID,
    numbered: bool = True,
    started: Mapping[Path, str] | None = None,
    read: Mapping[Path, Read] | None = None,
    although: str | None = None,
    progress: Progress | None = None,
) -> TakeReport:
    """Take logs in, each as the run that `keys` says; then fix the stretch of every scene that has enough runs.

    numbered : False = each log gets the next free run number of its cell and visit. started : when recordings began (ISO 8601),
    where that is known from elsewhere than the log. read : logs that were read already; these very bytes are taken in.
    although : as in `take_logs`. Raises BookError.
    """
    proofs = VisitProofs(book, study, although)
    taking = _Taking(book, study, choices, numbered, started or {}, progress or _silent, len(keys), read or {}, proofs)
    for path, key in keys.items():
        taking.one(path, key)
    taking.flush()
    return replace(taking.report(), stretches=settle(book, study))


def _silent(done: int, total: int, what: str = "") -> None:
    pass


class _Taking:
    """One taking in: reads log after log and commits them in groups."""

    def __init__(
        self,
        book: Book,
        study: Study,
        choices: Choices,
        numbered: bool,
        started: Mapping[Path, str],
        progress: Progress,
        total: int,
        read: Mapping[Path, Read],
        proofs: VisitProofs,
    ) -> None:
        self._book, self._study, self._choices = book, study, choices
        self._numbered, self._started, self._read_before = numbered, started, read
        self._progress, self._total, self._done = progress, total, 0
        self._proofs, self._titles = proofs, TitleFacts(book, study)
        self._recipes = dict(book.recipes())
        self._waiting: list[tuple[Path, NewRun]] = []
        self._since = time.monotonic()
        self._became: dict[Outcome, list[Added]] = {outcome: [] for outcome in Outcome}
        self._refused: list[Refusal] = []

    def report(self) -> TakeReport:
        """What became of the logs so far."""
        became = {outcome: tuple(added) for outcome, added in self._became.items()}
        runs = (became[Outcome.TAKEN], became[Outcome.ALREADY], became[Outcome.REREAD])
        return TakeReport(*runs, tuple(self._refused), proofs=(*self._proofs.said(), *self._titles.said()))

    def one(self, path: Path, key: RunKey) -> None:
        """Read one log; it waits for the next commit, or is refused."""
        try:
            unknown = outside(self._study, key, str(path))
            if unknown:
                raise LogError(unknown)
            log = self._read_before[path].log if path in self._read_before else load_bytes(path)
            if not self._numbered:
                key = self._free(key, log)
            there = self._book.run(key)
            if there and there.sha256 == digest(log):
                self._again(path, there, log)
            elif there:
                raise LogError(self._clash(path, there))
            else:
                self._read(path, key, log)
        except LogError as error:
            self._refuse(path, error.problems)

    def flush(self) -> None:
        """Commit what waits, and only then report it."""
        waiting, self._waiting = self._waiting, []
        if not waiting:
            return
        seal_first(self._book, self._study, self._total)
        added = self._book.add_runs([new for _, new in waiting])
        if self._choices.settles:
            for recipe in dict.fromkeys(new.recipe for _, new in waiting):
                self._book.remember_recipe(recipe)
        for (path, _), outcome in zip(waiting, added, strict=True):
            if outcome.outcome is Outcome.CLASH:
                self._refuse(path, (self._clash(path, outcome.run),))
            else:
                self._report(path, outcome)

    def _read(self, path: Path, key: RunKey, log: bytes) -> None:
        if path in self._read_before:
            reading, recipe = self._read_before[path].reading, self._read_before[path].recipe
        else:
            reading, recipe = read_settled(log, path.name, self._choices, self._recipes, scene_of(self._study, key).seconds)
        self._check_interval(path, recipe)
        skip = self._choices.skip_bad_rows
        if not self._waiting:
            self._since = time.monotonic()
        started = self._started.get(path) or started_of(reading)
        self._proofs.check(key, started, str(path))
        self._titles.note(key.title, (key.setup, key.visit), None if started is None else begun(started))
        self._waiting.append((path, NewRun(key, log, str(path), reading, recipe, skip, started=started)))
        size = sum(len(new.log) for _, new in self._waiting)
        late = time.monotonic() - self._since > GROUP_S
        if late or size > GROUP_BYTES or len(self._waiting) >= GROUP_RUNS or not self._numbered:
            self.flush()

    def _again(self, path: Path, there: RunRecord, log: bytes) -> None:
        """The log is there already: see that its original is sound, and read it anew if the person chose how."""
        self._book.mend_original(log)
        outcome = Outcome.ALREADY
        if self._choices.settles or self._choices.skip_bad_rows:
            reading, recipe = read_settled(log, path.name, self._choices, self._recipes, scene_of(self._study, there.key).seconds)
            if self._book.read_anew(NewRun(there.key, log, str(path), reading, recipe, self._choices.skip_bad_rows)):
                outcome = Outcome.REREAD
            if self._choices.settles:
                self._book.remember_recipe(recipe)
        self._report(path, Added(outcome, there))

    def _free(self, key: RunKey, log: bytes) -> RunKey:
        """The key with the next free run number; a log that the visit has already keeps its own."""
        sha256 = digest(log)
        place = (key.title, key.scene, key.setup, key.visit)
        for run in self._book.runs_of_log(sha256):
            if (run.key.title, run.key.scene, run.key.setup, run.key.visit) == place:
                return run.key
        return replace(key, run=self._book.next_run(key))

    def _clash(self, path: Path, there: RunRecord) -> Problem:
        free = self._book.next_run(there.key)
        what = f"{there.key} is another log already (taken in from {there.source})"
        do = f"give this one its own place, for instance --run {free}; if it replaces a bad run, set that one aside"
        return Problem("run-taken", what, str(path), do)

    def _check_interval(self, path: Path, recipe: Recipe) -> None:
        meant = self._study.interval.value
        unstated = IntervalMeaning.UNSTATED.value
        if unstated not in {meant, recipe.interval} and meant != recipe.interval:
            what = f"the study's intervals are from {meant} to {meant}, this log's from {recipe.interval} to {recipe.interval}"
            do = "choose the column that means the same with --column, or keep these logs in a study of their own"
            raise LogError(Problem("interval-differs", what, str(path), do))

    def _refuse(self, path: Path, problems: tuple[Problem, ...]) -> None:
        self._refused.append(Refusal(path, problems))
        self._step(path)

    def _report(self, path: Path, added: Added) -> None:
        self._became[added.outcome].append(added)
        self._step(path)

    def _step(self, path: Path) -> None:
        self._done += 1
        self._progress(self._done, self._total, path.name)


def started_of(reading: Reading) -> str | None:
    """When a log says that its recording began, ISO 8601, UTC; None where it does not say."""
    moment = recorded_at(reading)
    return None if moment is None else datetime.fromtimestamp(moment, UTC).isoformat().replace("+00:00", "Z")
