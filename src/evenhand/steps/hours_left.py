"""While a study is being recorded: what is done, what is still open, and the best use of the next hours."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.planning.use import best_use
from evenhand.rehearsal.model import Rehearsal
from evenhand.rehearsal.rehearse import FEWER, Wishes
from evenhand.steps.campaign import campaign
from evenhand.steps.documents import HoursLeftDocument, encode
from evenhand.steps.plan_options import hours_left_of
from evenhand.steps.rehearse import rehearse_study
from evenhand.steps.rehearse_options import NoiseChoice
from evenhand.steps.study import open_study
from evenhand.study.read import read_study
from evenhand.writeup.hours_left import HoursLeft, account

__all__ = ["HoursLeft", "account", "as_json", "use_of_hours"]

Progress = Callable[[int, int, str], None]


def use_of_hours(folder: Path, hours: float, noise: str = "orderly", progress: Progress = lambda *_: None) -> HoursLeft:
    """The best use of the next hours, in whole visits, and what is expected to be told after them.

    Raises UsageError where the hours are none or all is done, PlanError, StudyError, BookError.
    """
    minutes = hours_left_of(hours)
    with Book.open(folder) as book:
        found = campaign(book, read_study(book.study_file))
        recorded = bool(book.runs())
    if found.progress.due is None:
        do = "judge it: evenhand judge; to go on, raise visits in [protocol] of study.toml and seal the amendment"
        raise UsageError(Problem("nothing-due", "every visit of the plan is done", str(folder), do))
    use = best_use(found.plan, found.progress, minutes)
    study = found.study
    runs = max(study.protocol.runs - study.protocol.warmup_runs, 1)

    def outlook(visits: int) -> Rehearsal | None:
        if visits < 2:
            return None
        wishes = Wishes(studies=FEWER)
        told = rehearse_study(folder, wishes=wishes, noise=NoiseChoice(noise), visits=visits, runs=runs, progress=progress)
        return told.rehearsal

    now = rehearse_study(folder, wishes=Wishes(studies=FEWER), noise=NoiseChoice(noise), progress=progress).rehearsal
    opened = open_study(folder).outcome if recorded else None
    return HoursLeft(
        folder=folder,
        study=study,
        progress=found.progress,
        use=use,
        then=outlook(use.rounds),
        whole=outlook(found.plan.rounds),
        now=now if now.recorded else None,
        look=None if opened is None else opened.look,
        precision=None if opened is None else opened.precision,
    )


def as_json(found: HoursLeft) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    return encode(
        HoursLeftDocument(
            form="evenhand-hours-left-1",
            version=__version__,
            question=found.study.question,
            progress=found.progress,
            use=found.use,
            next_look=found.next_look,
            opened=found.now.opened if found.now else (),
            next_visits=found.now.next_visits if found.now else None,
            then=found.then,
        )
    )
