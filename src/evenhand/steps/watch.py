"""Watch a folder: every finished log is taken in as the run that it is, screened, and told in one line.

The person's files are never moved, changed or deleted. What became of each is in the book, so a watch that is stopped or killed
at any moment is simply begun again.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import msgspec

from evenhand.book.book import Book
from evenhand.book.inbox import Became, InboxRecord
from evenhand.errors import Problem, UsageError
from evenhand.steps.addresses import Address, find_logs
from evenhand.steps.arrivals import Arrivals, Stamp
from evenhand.steps.documents import WatchLine
from evenhand.steps.folder import be_gentle, ignore_leases, listed, written
from evenhand.steps.landing import Desk, Told, waiting
from evenhand.steps.matching import Wanted, relative
from evenhand.steps.proving import INBOX, from_inbox
from evenhand.steps.readings import UNSAID, Choices
from evenhand.wording import counted, quoted

__all__ = ["Address", "Choices", "Told", "as_json", "beginning", "take_next", "watch"]

#: Seconds from one look at the folder to the next, the latter while a file is there that is not finished; files that are settled
#: are looked at more seldom.
PERIOD_S: Final = 0.25
WAITING_PERIOD_S: Final = 0.1
SETTLED_S: Final = 2.0
#: With --gentle: nothing in the folder may have been written to for so long before anything is done.
GENTLE_S: Final = 5.0
GENTLE_PERIOD_S: Final = 0.5
SINCE: Final = ("start", "all")

Tell = Callable[[Told], None]


@dataclass(slots=True)
class _Watch:
    """One watching of one folder."""

    desk: Desk
    book: Book
    folder: Path
    tell: Tell
    gentle: bool
    arrivals: Arrivals
    queue: list[Path] = field(default_factory=list)
    doubted: dict[Path, Stamp] = field(default_factory=dict)
    landed: dict[Path, float] = field(default_factory=dict)
    at_first: dict[Path, Stamp] | None = None
    thorough_at: float = 0.0

    def look(self, now: float) -> bool:
        """One look at the folder; whether anything was finished. A folder that is gone may come back (a drive, a network)."""
        thorough = now >= self.thorough_at
        if thorough:
            self.thorough_at = now + SETTLED_S
        with contextlib.suppress(OSError):
            there = list(listed(self.folder, self.arrivals.known, thorough=thorough))
            if self.at_first is None:
                self.at_first = {file.path: file.stamp for file in there}
            self.queue += self.arrivals.look(now, there)
        if self.gentle and not self.arrivals.quiet(now, GENTLE_S):
            return False
        finished, self.queue = self.queue, []
        for path in finished:
            self._land(path, now)
        return bool(finished)

    def _land(self, path: Path, now: float) -> None:
        stamp = self.arrivals.known.get(path)
        if stamp is None:
            return  # it changed while it waited for its turn, and will be finished again
        if path.name.startswith("snapshot-") and path.suffix == ".json":
            with contextlib.suppress(OSError):
                self._say(self.desk.snapshot(path))
            return
        # What was there before is of the visit of its own time; what comes now of the visit at hand, whatever a clock says.
        at = stamp.mtime_ns / 1e9 if (self.at_first or {}).get(path) == stamp else None
        told = self.desk.land(path, relative(path, self.folder), sure=self.doubted.get(path) == stamp, at=at)
        if told is None:
            self.doubted[path] = stamp
            self.arrivals.doubt(now, path)
            return
        if told.replaces and path in self.landed:
            self.arrivals.learn(now - self.landed[path])
        self.landed[path] = now
        self._say(told)

    def _say(self, told: Told) -> None:
        if told.line:
            self.tell(told)


def watch(
    folder: Path,
    inbox: Path | None = None,
    *,
    since: str | None = None,
    stated: Address = Address(),  # noqa: B008 - frozen
    pattern: str | None = None,
    choices: Choices = UNSAID,
    gentle: bool = False,
    stop_after: float | None = None,
    say: Callable[[tuple[str, ...]], None] = lambda lines: None,
    tell: Tell = lambda told: None,
) -> None:
    """Watch a folder (None = the study's inbox) until interrupted, or until nothing was finished for `stop_after` seconds.

    since : "all" = files that are there already are taken too, "start" = only what comes from now on; None = all in the study's
    inbox and in a folder that was watched before, else from now on. gentle : nothing is done while a file grows.
    Raises UsageError (no such folder, no visit at hand), StudyError, BookError.
    """
    if since is not None and since not in SINCE:
        raise UsageError(Problem("option-unclear", f"{since!r} is none of start or all", "--since", "choose start or all"))
    ignore_leases()
    if gentle:
        be_gentle()
    with Book.open(folder) as book:
        where = _folder(book, inbox)
        desk = Desk(book, stated, pattern=pattern, choices=choices)
        want = desk.wanted()
        known = _known(book, where, since, inbox is None)
        say(beginning(want, book, where))
        one = _Watch(desk, book, where, tell, gentle, Arrivals(written, known))
        _go_on(one, stop_after)


def _go_on(one: _Watch, stop_after: float | None) -> None:
    last = time.monotonic()
    while True:
        now = time.monotonic()
        if one.look(now) or one.queue or one.arrivals.waiting:
            last = now
        if stop_after is not None and now - last >= stop_after:
            return
        period = GENTLE_PERIOD_S if one.gentle else WAITING_PERIOD_S if one.arrivals.waiting else PERIOD_S
        time.sleep(max(0.0, period - (time.monotonic() - now)))


def _folder(book: Book, inbox: Path | None) -> Path:
    if inbox is None:
        where = book.folder / INBOX
        where.mkdir(exist_ok=True)
    else:
        where = inbox
    if not where.is_dir():
        do = "name the folder that the recorder writes into"
        raise UsageError(Problem("no-such-log", "there is no such folder", str(where), do))
    return where.resolve()


def _known(book: Book, folder: Path, since: str | None, own: bool) -> dict[Path, Stamp]:
    """Files whose present state is settled. What was there before watching began is put on record, so that a restart goes on."""
    files = book.inbox.files()
    again = {Became.BEFORE, Became.UNMATCHED, Became.REFUSED} if since == "all" else set()
    known = {Path(p): Stamp(r.size, r.mtime_ns) for p, r in files.items() if r.became not in again}
    said = f"watching {folder}"
    first = not any(event.kind == "watch" and event.text == said for event in book.events())
    if since == "start" or (since is None and first and not own):
        before = [file for file in listed(folder, known) if known.get(file.path) != file.stamp]
        book.inbox.add(InboxRecord(str(f.path), f.stamp.size, f.stamp.mtime_ns, "", Became.BEFORE) for f in before)
        known |= {file.path: file.stamp for file in before}
    if first:
        book.note("watch", said)
    return known


def beginning(want: Wanted, book: Book, folder: Path) -> tuple[str, ...]:
    """What is said before the first file: where, for which visit, what is kept aside."""
    setup = want.study.setup(want.visit.setup).label
    lines = [f"Watching {folder}", f"Visit {want.visit.number} of {setup}: {counted(len(want.missing), 'run')} to come."]
    aside = list(waiting(book))
    if aside:
        lines.append(f"{counted(len(aside), 'log is', 'logs are')} kept aside; say which run it is, for instance:")
        lines.append(f"  evenhand take {quoted(book.folder)} {quoted(aside[0].path)} --title … --setup … --visit …")
    return (*lines, "Stop with Ctrl+C; nothing is lost by that.")


def take_next(
    folder: Path,
    logs: list[str],
    *,
    stated: Address = Address(),  # noqa: B008 - frozen
    pattern: str | None = None,
    choices: Choices = UNSAID,
    although: str | None = None,
) -> Iterator[Told]:
    """Take files given by hand as the runs that come next, in the order of their last change; what became of each, one by one.

    although : reason to keep labels that a snapshot contradicts. Raises UsageError, StudyError, BookError.
    """
    files = sorted(find_logs(logs), key=lambda path: path.stat().st_mtime_ns)
    with Book.open(folder) as book:
        desk = Desk(book, stated, pattern=pattern, choices=choices, although=although)
        from_inbox(book, desk.study)
        desk.wanted()
        for path in files:
            told = desk.land(path.resolve(), _name(path, logs), at=path.stat().st_mtime)
            if told is not None and told.line:
                yield told


def _name(path: Path, logs: list[str]) -> Path:
    """The part of a path that may say which run it is: below the folder that was named, else the file's own name."""
    roots = [Path(name) for name in logs if Path(name).is_dir() and path.is_relative_to(name)]
    return path.relative_to(roots[0]) if roots else Path(path.name)


def as_json(told: Told) -> str:
    """One line for programs (docs/reference/json)."""
    return msgspec.json.encode(
        WatchLine(
            form="evenhand-watch-1",
            file=told.file,
            became=told.became.value,
            run=told.run,
            reasons=told.reasons,
            filled=told.filled,
            planned=told.planned,
            average=told.average,
            low=told.low,
            replaces=told.replaces,
            line=told.line,
        )
    ).decode("utf-8")
