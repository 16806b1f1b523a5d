"""Say which titles to keep for the next study."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.errors import Problem, UsageError
from evenhand.judging.advice.thinning import KEEP
from evenhand.judging.model import Thinning
from evenhand.steps.documents import ThinDocument, encode
from evenhand.steps.material import material
from evenhand.steps.study import Opened, open_study
from evenhand.steps.titles import thinning_of
from evenhand.writeup.model import Section
from evenhand.writeup.sections.thinning import thinned


@dataclass(frozen=True, slots=True)
class Thinner:
    """The titles to keep, and how that is told."""

    opened: Opened
    thinning: Thinning
    sections: tuple[Section, ...]


def thin_study(folder: Path, keep: tuple[int, ...] = (), minutes: float | None = None) -> Thinner:
    """The best choice of each size in `keep`, of several sizes where none is given. minutes : that a title takes in one visit.

    Raises UsageError for a size that is no choice, and what opening a study raises.
    """
    opened = open_study(folder)
    _check(keep, minutes, len(opened.outcome.shown.titles))
    found = thinning_of(opened.outcome, keep or KEEP)
    told = material(opened.outcome, opened.stretches)
    return Thinner(opened, found, (thinned(told, found, minutes),))


def _check(keep: tuple[int, ...], minutes: float | None, titles: int) -> None:
    problems = [
        Problem("keep-titles", f"{k} of {titles} titles cannot be chosen", "--keep", f"name a number from 1 to {titles - 1}")
        for k in keep
        if not 0 < k < titles
    ]
    if minutes is not None and not 0 < minutes < float("inf"):
        problems.append(Problem("keep-titles", f"a title cannot take {minutes:g} minutes", "--minutes", "name a number above 0"))
    if problems:
        raise UsageError(problems)


def as_json(found: Thinner) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    question = found.opened.outcome.study.question
    return encode(ThinDocument("evenhand-thin-1", __version__, question, found.thinning))
