"""Seal the protocol of a study before it is recorded, amend it with a reason, or tell how it stands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.steps.sealing import protocol_of, sealing
from evenhand.steps.standing import who
from evenhand.study.model import Sealing, Study
from evenhand.study.read import read_study
from evenhand.study.seal import changes, seal_of
from evenhand.wording import quoted
from evenhand.writeup.seal_words import change, said


@dataclass(frozen=True, slots=True)
class Sealed:
    """What `evenhand seal` found or did. new : a seal was set by this call."""

    folder: Path
    study: Study
    sealing: Sealing
    new: bool

    @property
    def text(self) -> str:
        """The sealed text, byte for byte."""
        return self.sealing.seals[-1].text

    def lines(self) -> tuple[str, ...]:
        """What to say."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[str]:
        seal = self.sealing.seals[-1]
        yield ("Sealed: " if self.new else "Sealed already: ") + f"SHA-256 {seal.sha256}"
        yield from said(self.study, self.sealing)
        if self.new:
            if not self.sealing.runs:
                yield "Publish this hash before you record, and anyone can check later that the protocol was not changed."
            yield f"The sealed text: evenhand seal {quoted(self.folder)} --text"
            yield "A seal is never removed; a protocol that must change is amended with --why and both are listed."


def seal_study(folder: Path, why: str | None = None, by: str | None = None) -> Sealed:
    """Seal the protocol, or amend it with a reason. by : None = the name the person is logged in with.

    Raises StudyError, BookError; UsageError where the protocol differs from its seal and no reason is given.
    """
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        before = book.seals()
        text = protocol_of(study)
        found = changes(before[-1].text, text, study) if before else ()
        differs = bool(found)
        if differs and not (why or "").strip():
            since = "; ".join(change(study, c) for c in found)
            what = f"an amendment is listed with its reason, and none was given ({since})"
            do = f'say it, for instance: evenhand seal {quoted(folder)} --why "a title was withdrawn from sale"'
            raise UsageError(Problem("option-unclear", what, "--why", do))
        if differs or not before:
            book.seal(text, seal_of(text), by or who(), why=why if differs else None)
        return Sealed(folder, study, sealing(book, study), differs or not before)
