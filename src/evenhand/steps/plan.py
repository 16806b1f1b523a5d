"""Plan the visits of a study: in which order, how long, by when, and what they will settle."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.book.durable import write_whole
from evenhand.errors import Problem, UsageError
from evenhand.planning.calendar import by_deadline, calendar_file, dated
from evenhand.planning.cautions import cautions
from evenhand.planning.forgotten import forgotten
from evenhand.planning.model import Plan
from evenhand.planning.plan import parts_for_rounds, plan, split
from evenhand.rehearsal.model import Rehearsal, Way
from evenhand.rehearsal.parts import way
from evenhand.rehearsal.rehearse import FEWER, Wishes
from evenhand.steps import hours_left
from evenhand.steps.campaign import settings
from evenhand.steps.documents import PlanDocument, encode
from evenhand.steps.plan_options import Dates, Numbers, dates_of
from evenhand.steps.plans import keep_plan, kept_plan
from evenhand.steps.rehearse import rehearse_study
from evenhand.steps.rehearse_options import NoiseChoice
from evenhand.study.model import Apply, Study
from evenhand.study.read import read_study
from evenhand.writeup.planned import Planned, account
from evenhand.writeup.sheet import render, run_sheet

__all__ = [
    "Dates",
    "Numbers",
    "Planned",
    "account",
    "as_json",
    "dates_of",
    "hours_left",
    "plan_study",
    "write_calendar",
    "write_sheet",
]

Progress = Callable[[int, int, str], None]
USUAL_SEED: Final = 1
STUDIES: Final = 1000


def plan_study(
    folder: Path,
    numbers: Numbers,
    dates: Dates,
    *,
    like: Sequence[Path] = (),
    noise: str = "orderly",
    progress: Progress = lambda *_: None,
) -> Planned:
    """Plan the study in `folder` and keep the plan in its book, unless other numbers than the protocol's are tried.

    Without numbers the plan that is kept is shown, or the first one made. Raises UsageError, PlanError, StudyError, BookError.
    """
    numbers.check()
    with Book.open(folder) as book:
        study = _tried(read_study(book.study_file), numbers)
        made, kept = _plan(book, study, numbers)
    if dates.deadline is not None and made.day_minutes is None:
        do = "state how long a day of bench work is, like --hours-a-day 3"
        raise UsageError(Problem("option-unclear", "a deadline tells nothing without hours a day", "--deadline", do))
    visits = dated(made, dates.start, dates.begin, dates.on)
    deadline = None if dates.deadline is None else by_deadline(visits, made, dates.start, dates.deadline, dates.on)

    def rehearsed(count: int, hours: float | None, studies: int) -> Rehearsal:
        wishes, runs = Wishes(hours=hours, studies=studies), max(study.protocol.runs - study.protocol.warmup_runs, 1)
        supposed = NoiseChoice(noise)
        found = rehearse_study(folder, wishes=wishes, noise=supposed, like=like, visits=count, runs=runs, progress=progress)
        return found.rehearsal

    late = deadline is not None and 0 < deadline.rounds < made.rounds
    whole = rehearsed(study.protocol.visits, deadline.minutes / 60 if deadline and late else None, STUDIES)
    by_then = rehearsed(deadline.rounds, None, FEWER) if deadline and late else None
    ways = _ways(study, made, whole)
    return Planned(study, made, kept, visits, deadline, forgotten(study, made), whole, by_then, ways)


def _tried(study: Study, numbers: Numbers) -> Study:
    protocol = study.protocol
    runs = protocol.runs if numbers.runs is None else numbers.runs + protocol.warmup_runs
    return replace(study, protocol=replace(protocol, visits=numbers.visits or protocol.visits, runs=runs))


def _plan(book: Book, study: Study, numbers: Numbers) -> tuple[Plan, bool]:
    """The plan, and whether it is the book's."""
    before = kept_plan(book)
    minutes = None if numbers.hours_a_day is None else 60.0 * numbers.hours_a_day
    if before is not None:
        minutes = before.day_minutes if minutes is None else minutes
    seed = numbers.seed if numbers.seed is not None else before.seed if before else USUAL_SEED
    parts = numbers.parts if numbers.parts is not None or before is None or numbers.hours_a_day is not None else before.parts
    made = plan(study, seed, minutes, parts)
    if numbers.tries:
        return made, made == before
    return keep_plan(book, made), True


def _ways(study: Study, made: Plan, found: Rehearsal) -> tuple[Way, Way] | None:
    """What it brings to split the titles: as planned, or so that whole rounds fit a day."""
    parts = made.parts if made.parts > 1 else parts_for_rounds(study, made.day_minutes)
    if parts is None or parts < 2:
        return None
    leading, scheme = found.expected[0], found.scheme

    def laid(number: int) -> Way:
        pieces = [[t.name for t in titles] for titles in split(study, None, number)]
        hours = plan(study, made.seed, None, number).minutes / 60
        return way(scheme, leading.spreads, leading.margin, pieces, hours, FEWER, found.seed)

    return laid(1), laid(parts)


def write_calendar(found: Planned, file: Path) -> tuple[str, ...]:
    """Write the visits as a calendar file. Returns what to say."""
    study = found.study
    labels, titles = {s.name: s.label for s in study.setups}, {t.name: t.label for t in study.titles}
    _write(file, calendar_file(found.visits, study.question, labels, titles, datetime.now(UTC)))
    return (f"Wrote {file}: {len(found.visits)} visits. Delete it to take this back.",)


def write_sheet(found: Planned, file: Path) -> tuple[str, ...]:
    """Write the printable run sheet. Returns what to say."""
    study, before = found.study, None
    to_set = {}
    for visit in found.plan.visits:
        to_set[visit.order] = settings(study, visit.setup, before)
        before = visit.setup
    ways = frozenset(f.apply for f in study.factors) or frozenset([Apply.FIRMWARE])
    _write(file, render(run_sheet(study, found.plan, found.visits, to_set, cautions(ways))).encode("utf-8"))
    return (f"Wrote {file}: print it on A4, a page for each visit. Delete it to take this back.",)


def _write(file: Path, data: bytes) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, data)
    except OSError as error:
        what = f"cannot be written ({error.strerror})"
        raise UsageError(Problem("file-unwritable", what, str(file), "name a file in a folder that you may write to")) from error


def as_json(found: Planned) -> str:
    """The plan as a document for programs (docs/reference/json)."""
    return encode(
        PlanDocument(
            form="evenhand-plan-1",
            version=__version__,
            question=found.study.question,
            plan=found.plan,
            kept=found.kept,
            visits=found.visits,
            deadline=found.deadline,
            forgotten=found.forgotten,
            rehearsal=found.rehearsal,
            by_then=found.by_then,
            ways=found.ways,
        )
    )
