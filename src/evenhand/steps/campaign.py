"""The plan of a book against what the book has: which visit the PC is in, what is done, what is left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evenhand.bench.catalogue import label, shown
from evenhand.bench.proof import expectations
from evenhand.book.book import Book
from evenhand.planning.model import Plan, Progress, RecordedRun, Setting
from evenhand.planning.plan import plan
from evenhand.planning.progress import Visit, progress
from evenhand.screening.model import Standing
from evenhand.steps.plans import fits, keep_plan, kept_plan
from evenhand.steps.proving import moment
from evenhand.study.model import Apply, Study

#: Kinds of events that this keeps in the book.
ENDED: Final = "visit-ended"
CAUTIONED: Final = "cautioned"
USUAL_SEED: Final = 1


@dataclass(frozen=True, slots=True)
class Campaign:
    """A study under way. planned_anew : why the plan was made just now, empty where it was there."""

    study: Study
    plan: Plan
    progress: Progress
    planned_anew: str = ""


def campaign(book: Book, study: Study) -> Campaign:
    """How a study stands. Without a plan, or where study.toml asks for something else by now, one is made and kept.

    Raises PlanError.
    """
    there, why = kept_plan(book), ""
    if there is None:
        why, there = "no plan was kept", keep_plan(book, plan(study, USUAL_SEED))
    elif not fits(there, study):
        why = "study.toml asks for something else than the plan did"
        there = keep_plan(book, plan(study, there.seed, there.day_minutes, min(there.parts, len(study.titles))), why)
    begun = begun_visits(book, study)
    found = progress(study, there, recorded(book), begun, bool(begun) and is_ended(book, begun[-1]))
    return Campaign(study, there, found, why)


def recorded(book: Book) -> tuple[RecordedRun, ...]:
    """Every run with whether it is kept."""
    decided = book.standings()
    kept = {run.id: run.id not in decided or decided[run.id].standing is Standing.KEPT for run in book.runs()}
    return tuple(RecordedRun(run.key, kept[run.id]) for run in book.runs())


def begun_visits(book: Book, study: Study) -> list[Visit]:
    """Visits of the study's setups in the order in which they were begun, the last time; else of their first runs."""
    began = {(v.setup, v.visit): (moment(v.began), 0) for v in book.bench.visits()}
    first: dict[Visit, tuple[datetime, int]] = {}
    for run in book.runs():
        visit, when = (run.key.setup, run.key.visit), (moment(run.started or run.taken_at), run.id)
        first[visit] = min(first.get(visit, when), when)
    found, names = first | began, {s.name for s in study.setups}
    return sorted((visit for visit in found if visit[0] in names), key=lambda visit: found[visit])


def is_ended(book: Book, visit: Visit) -> bool:
    """Whether a person ended a visit and nobody began it again."""
    ended = False
    for event in book.events():
        if event.kind == ENDED and event.text.startswith(f"{visit_name(visit)}:"):
            ended = True
        elif event.kind == "visit" and event.text.startswith(f"visit {visit[1]} of {visit[0]}:"):
            ended = False
    return ended


def end_visit(book: Book, visit: Visit, why: str) -> None:
    """Put on record that a visit is over as it is."""
    book.note(ENDED, f"{visit_name(visit)}: {why}")


def visit_name(visit: Visit) -> str:
    """A visit on the command line and in the book's events: `lean/v2`."""
    return f"{visit[0]}/v{visit[1]}"


def settings(study: Study, setup: str, before: str | None) -> tuple[Setting, ...]:
    """Every factor as `setup` has it, with the level it had under `before` where that is another.

    A study without factors has one setting: the setup as a whole.
    """
    own = study.setup(setup)
    earlier = study.setup(before) if before else None
    if not study.factors:
        was = earlier.label if earlier and earlier is not own else None
        return (Setting("setup", own.label, Apply.FIRMWARE, was),)
    expected: dict[str, list[str]] = {}
    for factor_name, _, key, value in expectations(study, own):
        expected.setdefault(factor_name, []).append(f"{label(key)} {shown(key, value)}")
    found = []
    for factor in study.factors:
        labels = {level.name: level.label for level in factor.levels}
        level, was = own.levels.get(factor.name), earlier.levels.get(factor.name) if earlier else None
        if level is not None:
            expects = tuple(expected.get(factor.name, ()))
            found.append(
                Setting(factor.label, labels[level], factor.apply, labels[was] if was and was != level else None, expects)
            )
    return tuple(found)
