"""Open a study folder and find out all there is to say about it: what judge, screen, explain and publish begin with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from evenhand.book.book import Book
from evenhand.book.model import Event
from evenhand.frames.model import Stretch
from evenhand.steps.measured import measured_runs
from evenhand.steps.verdicts import Outcome, outcome
from evenhand.study.read import read_study


@dataclass(frozen=True, slots=True)
class Opened:
    """A study as it stands now."""

    folder: Path
    outcome: Outcome
    stretches: Mapping[str, Stretch]
    events: tuple[Event, ...]


def open_study(folder: Path) -> Opened:
    """Read the study, measure its runs, screen and judge them. Raises StudyError, BookError, JudgingError."""
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        found = outcome(study, measured_runs(book, study))
        return Opened(folder, found, book.stretches(), book.events())
