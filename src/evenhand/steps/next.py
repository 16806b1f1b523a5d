"""The next thing to do at the bench, by the plan and what is recorded; begin a visit, or end it as it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.book.connection import now
from evenhand.book.model import VisitRecord
from evenhand.errors import Problem, UsageError
from evenhand.planning.cautions import cautions
from evenhand.planning.model import Caution, Setting, VisitLeft
from evenhand.steps.campaign import CAUTIONED, Campaign, begun_visits, campaign, end_visit, settings, visit_name
from evenhand.steps.documents import NextDocument, encode
from evenhand.steps.inspect import inspect_pc
from evenhand.steps.standing import who
from evenhand.study.read import read_study
from evenhand.wording import counted, quoted
from evenhand.writeup.model import Section
from evenhand.writeup.next_words import Next, account

__all__ = ["Begin", "as_json", "begin_next", "end_present", "next_of"]


@dataclass(frozen=True, slots=True)
class Begin:
    """How a visit is begun. elsewhere : the bench is another PC, so this one is not looked at. file : a snapshot from there.

    although : reason to keep the setup's label where the snapshot contradicts it. tester : None = who is logged in.
    """

    elsewhere: bool = False
    file: Path | None = None
    although: str = ""
    tester: str | None = None


def next_of(folder: Path) -> Next:
    """What comes next. Cautions that the book has not shown yet are shown, once for each kind of change, and remembered.

    Raises PlanError, StudyError, BookError.
    """
    with Book.open(folder) as book:
        found = campaign(book, read_study(book.study_file))
        due, present = found.progress.due, found.progress.present
        before = present.setup if present else _last_setup(book, found)
        changes = () if due is None or due.begun else settings(found.study, due.setup, before)
        shown = _new_cautions(book, [s for s in changes if s.before is not None or before is None or (due and due.anew)])
    return Next(folder, found.study, found.progress, changes, before, shown, found.planned_anew)


def _last_setup(book: Book, found: Campaign) -> str | None:
    begun = begun_visits(book, found.study)
    return begun[-1][0] if begun else None


def _new_cautions(book: Book, changed: Sequence[Setting]) -> tuple[Caution, ...]:
    """Cautions of these changes that were never said in this book."""
    said = {e.text for e in book.events() if e.kind == CAUTIONED}
    new = tuple(c for c in cautions(frozenset(s.apply for s in changed)) if c.key not in said) if changed else ()
    for caution in new:
        book.note(CAUTIONED, caution.key)
    return new


def begin_next(folder: Path, how: Begin) -> tuple[str, ...]:
    """Begin the visit that is due: its setup is proven by a snapshot of this PC or of `how.file`. Returns what to say.

    Raises UsageError where a visit is not finished or nothing is left; BenchError where the snapshot contradicts the setup.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        progress = campaign(book, study).progress
        due = progress.due
        if due is None:
            do = "raise visits in [protocol] of study.toml to go on, and seal the amendment with its reason"
            raise UsageError(Problem("nothing-due", "every visit of the plan is done", str(folder), do))
        if due.begun:
            raise UsageError(_unfinished(folder, due))
        if how.elsewhere and how.file is None:
            tester = how.tester or who()
            made = book.bench.add_visit(due.setup, due.visit, None, proven=False, began=now(), tester=tester)
            return _begun(folder, study.setup(due.setup).label, due, made)
    found = inspect_pc(folder, how.file, setup=due.setup, visit=due.visit, although=how.although, tester=how.tester, anew=True)
    assert found.visit is not None
    return _begun(folder, study.setup(due.setup).label, due, found.visit)


def _unfinished(folder: Path, due: VisitLeft) -> Problem:
    missing = counted(sum(s.runs for s in due.scenes), "run")
    what = f"{visit_name((due.setup, due.visit))} is not finished: it lacks {missing}"
    do = f'record them; or end it as it is: evenhand next {quoted(folder)} --end "REASON"'
    return Problem("visit-unfinished", what, "--begin", do)


def _begun(folder: Path, label: str, due: VisitLeft, made: VisitRecord) -> tuple[str, ...]:
    if made.proven:
        proof = "its setup is proven by a snapshot"
    elif made.snapshot is None:
        proof = f"unproven, as there is no snapshot of it: evenhand inspect {quoted(folder)} --from FILE --visit {due.visit}"
    else:
        proof = f"unproven: {made.why or 'the snapshot cannot tell its setup'}"
    return (
        f"Begun: visit {due.visit} of {label}, by {made.tester}; {proof}.",
        f'To take this back: evenhand next {quoted(folder)} --end "begun by mistake"',
    )


def end_present(folder: Path, why: str) -> tuple[str, ...]:
    """End the visit that the PC is in, as it is. Returns what to say. Raises UsageError where there is none, or no reason."""
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        present = campaign(book, study).progress.present
        if present is None:
            raise UsageError(Problem("nothing-due", "no visit is going on", "--end", "begin one with --begin"))
        if not why.strip():
            do = 'say it, for instance --end "the PC froze and was set up again"'
            raise UsageError(Problem("option-unclear", "a visit is ended for a reason, and none was given", "--end", do))
        end_visit(book, (present.setup, present.visit), why.strip())
        after = campaign(book, study).progress
    label = study.setup(present.setup).label
    lost = [x for x in after.lost if (x.setup, x.visit) == (present.setup, present.visit)]
    back = f"; {counted(len(lost), 'scene')} without a run that counts will come back in visit {lost[0].into}" if lost else ""
    return (f"Ended: visit {present.visit} of {label}{back}.",)


def sections(found: Next) -> tuple[Section, ...]:
    """What to say."""
    return account(found)


def as_json(found: Next) -> str:
    """What comes next, as a document for programs (docs/reference/json)."""
    return encode(
        NextDocument(
            form="evenhand-next-1",
            version=__version__,
            question=found.study.question,
            due=found.progress.due,
            expected=found.progress.due.expected if found.progress.due else None,
            settings=found.settings,
            cautions=found.cautions,
            progress=found.progress,
            minutes=found.progress.minutes,
        )
    )
