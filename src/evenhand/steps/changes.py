"""What changed on the bench in the course of a study, what it does to results, and what was looked at and does not matter."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.bench.model import BenchAccount, Change, Grade, Waiver
from evenhand.book.book import Book
from evenhand.errors import BenchError, Problem, UsageError
from evenhand.steps.documents import ChangesDocument, encode
from evenhand.steps.proving import from_inbox
from evenhand.steps.standing import who
from evenhand.steps.visits import account_of
from evenhand.study.model import Study
from evenhand.study.read import read_study
from evenhand.wording import counted, listed, nearest, quoted
from evenhand.writeup.bench_words import in_full
from evenhand.writeup.model import Section


@dataclass(frozen=True, slots=True)
class Changes:
    """What the snapshots of a study say. done : what this call decided, in words."""

    study: Study
    account: BenchAccount
    waivers: tuple[Waiver, ...]
    done: tuple[str, ...] = ()

    def sections(self) -> tuple[Section, ...]:
        """The account for people."""
        decided = (Section("done", self.done[0], paragraphs=self.done[1:]),) if self.done else ()
        return (*decided, *in_full(self.study, self.account))


def changes_of(
    folder: Path, *, waive: str | None = None, unwaive: str | None = None, why: str = "", by: str | None = None
) -> Changes:
    """List what changed; first, on request, keep that the present changes of a fact do not matter, or that they do again.

    by : None = the name the person is logged in with. Raises UsageError, BenchError, StudyError, BookError.
    """
    if waive and unwaive:
        raise UsageError(Problem("option-unclear", "a change cannot both matter and not", "--unwaive", "give one of the two"))
    if waive and not why.strip():
        what = "a change is waived for a reason, and none was given"
        do = 'say it, for instance --why "the new driver names none of these titles"'
        raise UsageError(Problem("option-unclear", what, "--why", do))
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        from_inbox(book, study)
        done: tuple[str, ...] = ()
        if waive:
            done = _waive(book, study, folder, waive, why.strip(), by or who())
        elif unwaive:
            done = _unwaive(book, unwaive, why.strip(), by or who())
        return Changes(study, account_of(book, study), book.bench.waivers(), done)


def as_json(found: Changes) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    return encode(ChangesDocument("evenhand-changes-1", __version__, found.study.question, found.account, found.waivers))


def _waive(book: Book, study: Study, folder: Path, fact: str, why: str, by: str) -> tuple[str, ...]:
    """Waive every pair of values between which the fact changed; later values are not waived by it."""
    telling = [c for c in account_of(book, study).changes if c.difference.grade is not Grade.NOISE]
    mine = [c for c in telling if _name(c) == fact]
    if not mine:
        there = list(dict.fromkeys(map(_name, telling)))
        near = nearest(fact, there)
        do = f"did you mean {near}?" if near else f"name one of {listed(there, 'or')}" if there else "there is nothing to waive"
        raise BenchError(Problem("no-such-change", f"no change of {fact!r} is open", "--waive", do))
    pairs = list(dict.fromkeys((c.difference.before, c.difference.after) for c in mine))
    for before, after in pairs:
        book.bench.add_waiver(Waiver(fact, before, after, why, by))
    back = f"To take this back: evenhand changes {quoted(folder)} --unwaive {quoted(fact)}"
    return (f"{counted(len(pairs), 'change')} of {fact} does not matter, decided by {by}: {why}", back)


def _unwaive(book: Book, fact: str, why: str, by: str) -> tuple[str, ...]:
    mine = [w for w in book.bench.waivers() if w.fact == fact]
    if not mine:
        raise BenchError(
            Problem("no-such-change", f"no change of {fact!r} is waived", "--unwaive", "evenhand changes lists them")
        )
    for w in mine:
        book.bench.add_waiver(Waiver(fact, w.before, w.after, why or "taken back", by), holds=False)
    return (f"{counted(len(mine), 'change')} of {fact} matters again, decided by {by}",)


def _name(change: Change) -> str:
    """What a waiver calls it."""
    return f"{change.title}: {change.difference.key}" if change.title else change.difference.key
