"""Decide about runs: who, when, why. Nothing is deleted; a decision is a new row, and taking one back is another."""

from __future__ import annotations

import getpass
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from evenhand.book.book import Book
from evenhand.book.model import RunRecord
from evenhand.errors import Problem, UsageError
from evenhand.screening.blind import hidden_key
from evenhand.screening.model import Standing
from evenhand.steps.blinding import hidden_setups
from evenhand.steps.sealing import sealing
from evenhand.study.model import RunKey
from evenhand.study.read import read_study
from evenhand.wording import listed, nearest, quoted
from evenhand.writeup.seal_words import in_one_line

UNDO: Final = "undo"
#: The run that was taken in last.
LAST: Final = "last"
HIDDEN: Final = re.compile(r"\bhidden \d+\b")
DECISIONS: Final = {
    "kept": Standing.KEPT,
    "keep": Standing.KEPT,
    "set-aside": Standing.SET_ASIDE,
    "set aside": Standing.SET_ASIDE,
    "to-redo": Standing.REDO,
    "to redo": Standing.REDO,
    "redo": Standing.REDO,
}


def decide(folder: Path, run: str, decision: str, why: str = "", by: str | None = None) -> tuple[str, ...]:
    """Give a run a standing, or take its latest decision back (`undo`); returns what to say.

    run : title[/scene]/setup/vVISIT/rRUN, also with a hidden setup as blind screening shows it, which then stays hidden; or
    "last", the one taken in last.
    by : None = the name the person is logged in with. Raises UsageError, StudyError, BookError.
    """
    if decision != UNDO and decision not in DECISIONS:
        allowed = ("kept", "set-aside", "to-redo", UNDO)
        do = f"choose {listed(allowed, 'or')}"
        raise UsageError(Problem("option-unclear", f"{decision!r} is none of {listed(allowed, 'or')}", "decision", do))
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        names = hidden_setups(book) if HIDDEN.search(run) else {}
        record = find_run(book, run, names)
        shown = hidden_key(record.key, names)
        if decision == UNDO:
            standing, why = _before(book, record, shown), why or "the decision before is taken back"
        else:
            standing = _reasoned(DECISIONS[decision], why)
        made = book.set_standing(record, standing, by or who(), why)
        seal = in_one_line(study, sealing(book, study))
    back = f"To take this back: evenhand standing {quoted(folder)} {quoted(name_of(shown))} undo"
    now = f"{shown} is now {made.standing}, decided by {made.by}{f': {why}' if why else ''}."
    return (now, back, *([seal] if seal else []))


def _reasoned(standing: Standing, why: str) -> Standing:
    """A run is left out for a reason, which the report prints."""
    if standing is not Standing.KEPT and not why.strip():
        what = "a run is left out for a reason, and none was given"
        raise UsageError(
            Problem("option-unclear", what, "--why", 'say it, for instance --why "update running in the background"')
        )
    return standing


def find_run(book: Book, text: str, hidden: Mapping[str, str] | None = None) -> RunRecord:
    """The run that a person names; hidden : setup -> the name it goes by. Raises UsageError with the nearest name there is."""
    if text.strip() == LAST and book.runs():
        return book.runs()[-1]
    names: dict[str, list[RunRecord]] = {}
    for run in book.runs():
        key = hidden_key(run.key, hidden or {})
        for name in {name_of(key), _without_scene(key), str(key)}:
            names.setdefault(name, []).append(run)
    found = names.get(text.strip(), [])
    if len(found) == 1:
        return found[0]
    if found:
        which = listed([name_of(hidden_key(run.key, hidden or {})) for run in found], "or")
        raise UsageError(Problem("no-such-run", f"{text!r} could be several runs", "run", f"say which: {which}"))
    near = nearest(text, tuple(names))
    do = f"did you mean {near}?" if near else "write title/scene/setup/vVISIT/rRUN, for instance night-ferry/lean/v2/r1"
    raise UsageError(Problem("no-such-run", f"there is no run {text!r} in this book", "run", do))


def name_of(key: RunKey) -> str:
    """The name of a run on the command line."""
    return _without_scene(key) if key.scene == key.title else f"{key.title}/{key.scene}/{key.setup}/v{key.visit}/r{key.run}"


def _without_scene(key: RunKey) -> str:
    return f"{key.title}/{key.setup}/v{key.visit}/r{key.run}"


def _before(book: Book, record: RunRecord, shown: RunKey) -> Standing:
    """The standing that a run had before the latest decision about it."""
    history = [decision.standing for decision in book.decisions() if decision.run_id == record.id]
    if not history:
        what = f"nobody has decided about {shown} yet"
        raise UsageError(Problem("nothing-to-undo", what, "decision", "say kept, set-aside or to-redo"))
    return history[-2] if len(history) > 1 else Standing.KEPT


def who() -> str:
    """The name that the person is logged in with; "somebody" where the system does not tell."""
    try:
        return getpass.getuser()
    except (OSError, ImportError, KeyError):
        return "somebody"
