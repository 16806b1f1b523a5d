"""What the ledger remembers of watched folders, so that no file is read twice and a restart loses nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from evenhand import __version__
from evenhand.book.connection import Connection, now


class Became(StrEnum):
    """What became of a file in a watched folder."""

    BEFORE = "there before"  # watching began after it; not read
    KEPT = "kept"
    DOUBTFUL = "doubtful"  # taken as a run that does not fill its place
    ALREADY = "already there"
    UNMATCHED = "unmatched"  # which run it is, is not known: a person may say it later
    REFUSED = "refused"  # it cannot be read as a log
    LEFT_OUT = "left out"  # no log by its name
    SNAPSHOT = "snapshot"  # of the PC


@dataclass(frozen=True, slots=True)
class InboxRecord:
    """What became of one state of a file. sha256 : empty where it was not read. run_id : None where it is no run."""

    path: str
    size: int
    mtime_ns: int
    sha256: str
    became: Became
    run_id: int | None = None
    why: str = ""


class InboxRecords:
    """The watched folders' part of a book: `Book.inbox`."""

    def __init__(self, connection: Connection) -> None:
        self._ledger = connection

    def add(self, records: Iterable[InboxRecord]) -> None:
        """Put on record what became of files, all or none."""
        with self._ledger.writing():
            for r in records:
                self._ledger.insert(
                    "inbox",
                    path=r.path,
                    size=r.size,
                    mtime_ns=r.mtime_ns,
                    sha256=r.sha256,
                    outcome=str(r.became),
                    run_id=r.run_id,
                    why=r.why,
                    at=now(),
                    by_version=__version__,
                )

    def files(self) -> dict[str, InboxRecord]:
        """The latest record of every path."""
        rows = self._ledger.rows("SELECT path, size, mtime_ns, sha256, outcome, run_id, why FROM inbox ORDER BY id")
        return {
            path: InboxRecord(path, size, mtime_ns, sha256, Became(outcome), run, why)
            for path, size, mtime_ns, sha256, outcome, run, why in rows
        }

    def doubtful(self) -> dict[int, str]:
        """Runs that did not fill their place when they came, by number, with the reason."""
        rows = self._ledger.rows("SELECT run_id, outcome, why FROM inbox WHERE run_id IS NOT NULL ORDER BY id")
        last = {run: (out, why) for run, out, why in rows if out != Became.ALREADY}
        return {run: why for run, (out, why) in last.items() if out == Became.DOUBTFUL}
