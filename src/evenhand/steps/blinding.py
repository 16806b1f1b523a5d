"""Which name a study's setups are hidden behind: the same whenever it is asked, so that a decision finds its way back."""

from __future__ import annotations

from evenhand.book.book import Book
from evenhand.screening.blind import hidden_names
from evenhand.study.read import read_study


def hidden_setups(book: Book) -> dict[str, str]:
    """Setup -> hidden name. Drawn from the first log that was taken in, which is nobody's choice and never changes.

    Raises StudyError.
    """
    first = min(book.runs(), key=lambda run: run.id, default=None)
    return hidden_names((s.name for s in read_study(book.study_file).setups), int(first.sha256[:8], 16) if first else 0)
