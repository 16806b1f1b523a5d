"""What titles were while they were recorded: the build that a person typed in, and the files that hold their settings.

A digest shows that settings were the same, or which file changed; not which setting, and nothing that a game keeps elsewhere.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from evenhand.bench.model import Origin
from evenhand.book.book import Book
from evenhand.study.model import Study, Title
from evenhand.wording import listed

BUILD: Final = "build"
SETTINGS: Final = "settings"
#: Files as they are now tell of a moment that is not longer ago than this.
FRESH: Final = timedelta(hours=1)
#: Hexadecimal digits of a file's SHA-256 that are kept: enough to tell any two versions of it apart.
SHOWN: Final = 16


def fingerprint(title: Title, folder: Path) -> str | None:
    """Each settings file with the beginning of the SHA-256 of its bytes; None where the study names none, or one cannot be read.

    Paths are relative to the study's folder; `~` is the home of the person who is logged in.
    """
    names = _names(title.settings_files)
    found = []
    for name, path in zip(names, title.settings_files, strict=True):
        try:
            data = (folder / Path(path).expanduser()).read_bytes()
        except (OSError, RuntimeError):
            return None
        found.append(f"{name} {hashlib.sha256(data).hexdigest()[:SHOWN]}")
    return ", ".join(found) or None


class TitleFacts:
    """Keeps what titles are, visit by visit; a fact that is on record already is not kept twice."""

    def __init__(self, book: Book, study: Study) -> None:
        self._book, self._study = book, study
        self._last = {(f.title, f.setup, f.visit, f.fact): f.value for f in book.bench.title_facts()}
        self._told: list[str] = []

    def note(self, title: str, visit: tuple[str, int], moment: datetime | None) -> None:
        """What a title was in a visit at a moment; settings only where that is so near that its files were the same then."""
        known = self._study.title(title)
        now = datetime.now(UTC)
        if known.build:
            self._keep(known, visit, BUILD, known.build, Origin.TYPED, moment or now, "study.toml")
        if moment is not None and abs(now - moment) <= FRESH:
            found = fingerprint(known, self._book.folder)
            if found is not None:
                self._keep(known, visit, SETTINGS, found, Origin.READ, moment, listed(known.settings_files))

    def said(self) -> tuple[str, ...]:
        """What changed in the course of a visit, a sentence each."""
        return tuple(self._told)

    def _keep(
        self, title: Title, visit: tuple[str, int], fact: str, value: str, origin: Origin, moment: datetime, source: str
    ) -> None:
        place = (title.name, *visit, fact)
        before = self._last.get(place)
        if before == value:
            return
        self._last[place] = value
        when = moment.astimezone(UTC).isoformat(timespec="seconds")
        self._book.bench.add_title_fact(title.name, fact, value, origin, when, visit=visit, source=source)
        if before is not None:
            text = f"{fact} of {title.name} changed in visit {visit[1]} of {visit[0]}: {before} before, {value} now"
            self._book.note("title", text)
            self._told.append(text)


def note_titles(book: Book, study: Study, visit: tuple[str, int], moment: datetime | None) -> None:
    """Keep what every title is at the beginning of a visit."""
    facts = TitleFacts(book, study)
    for title in study.titles:
        facts.note(title.name, visit, moment)


def _names(files: Sequence[str]) -> list[str]:
    """Each file by its own name; the whole path where two have the same."""
    ends = [path.replace("\\", "/").rpartition("/")[2] for path in files]
    count = Counter(ends)
    return [end if count[end] == 1 else path for end, path in zip(ends, files, strict=True)]
