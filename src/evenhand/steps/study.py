"""Open a study folder and find out all there is to say about it: what judge, screen, explain and publish begin with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from evenhand.bench.model import BenchAccount
from evenhand.book.book import Book
from evenhand.book.model import Event
from evenhand.errors import Problem, UsageError
from evenhand.frames.model import Stretch
from evenhand.steps.inputs import read_inputs
from evenhand.steps.measured import measured_runs
from evenhand.steps.runs import StudyRun
from evenhand.steps.sealing import sealing
from evenhand.steps.sensed import with_sensors
from evenhand.steps.verdicts import Outcome, outcome
from evenhand.steps.visits import account_of
from evenhand.study.model import Sealing
from evenhand.study.read import read_study
from evenhand.wording import counted, quoted


@dataclass(frozen=True, slots=True)
class Opened:
    """A study as it stands now."""

    folder: Path
    outcome: Outcome
    stretches: Mapping[str, Stretch]
    events: tuple[Event, ...]
    sealing: Sealing
    bench: BenchAccount = field(default_factory=BenchAccount)


def open_study(folder: Path) -> Opened:
    """Read the study, measure its runs, screen and judge them. Raises StudyError, InputError, BookError, JudgingError;
    UsageError where no run counts.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        runs = that_count(something(measured_runs(book, study), folder), folder)
        found = outcome(study, runs, with_sensors(read_inputs(folder, study), study, runs))
        return Opened(folder, found, book.stretches(), book.events(), sealing(book, study), account_of(book, study))


def that_count(runs: tuple[StudyRun, ...], folder: Path) -> tuple[StudyRun, ...]:
    """The same runs. Raises UsageError where none of them counts."""
    if not any(run.counts for run in runs):
        do = "take more runs in, lower warmup_runs in study.toml, or decide otherwise with evenhand standing"
        none = f"none of the {counted(len(runs), 'run')} counts: each is set aside, to be redone, or warm-up"
        raise UsageError(Problem("nothing-counts", none, str(folder), do))
    return runs


def something(runs: tuple[StudyRun, ...], folder: Path) -> tuple[StudyRun, ...]:
    """The same runs. Raises UsageError where there is none."""
    if not runs:
        do = f"take logs in: evenhand take {quoted(folder)} LOGS"
        raise UsageError(Problem("nothing-counts", "no log of this study has been taken in yet", str(folder), do))
    return runs
