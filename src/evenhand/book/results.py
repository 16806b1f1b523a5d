"""What the ledger remembers of runs that have a result and no frames; the table that they came in is kept like a log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from evenhand.book import ledger
from evenhand.book.connection import Connection
from evenhand.book.durable import make_folder, told
from evenhand.book.model import Added, NewResult, Outcome, Result, ResultRecord
from evenhand.book.originals import Originals

_RESULT: Final = "SELECT run_id, average, low, score, pass_number, line, account, at, by_version FROM results"


class ResultRecords:
    """The part of a book that holds results without frames: `Book.results`. Nothing is changed or deleted."""

    def __init__(self, connection: Connection, originals: Originals) -> None:
        self._ledger, self._originals = connection, originals

    def add(self, table: bytes, source: str, new: Sequence[NewResult]) -> list[Added]:
        """Take in runs that stand in a table; when this returns they are on the disk.

        A run that is there with the same result is `ALREADY` there; one whose place another log or result has is a `CLASH`,
        which leaves the book as it was. Raises BookError (disk full, ledger busy); then none of them is in the ledger.
        """
        with told(self._originals.folder.parent):
            make_folder(self._originals.folder)
            name = self._originals.put(table)
        with self._ledger.writing():
            return [self._add(one, name, len(table), source) for one in new]

    def by_run(self) -> Mapping[int, ResultRecord]:
        """The result of each run that has one, by the run's number."""
        rows = self._ledger.rows(f"{_RESULT} ORDER BY run_id")
        return {row[0]: ResultRecord(row[0], Result(*row[1:5]), *row[5:]) for row in rows}

    def _add(self, new: NewResult, name: str, size: int, source: str) -> Added:
        there = ledger.run_of(self._ledger, new.key)
        if there:
            found = self._ledger.rows(f"{_RESULT} WHERE run_id = ?", (there.id,))
            same = bool(found) and Result(*found[0][1:5]) == new.result
            return Added(Outcome.ALREADY if same else Outcome.CLASH, there)
        ledger.add_log(self._ledger, name, size)
        number = ledger.add_run(self._ledger, new.key, name, source, proven=False, started=None)
        ledger.add_result(self._ledger, number, new)
        run = ledger.run_of(self._ledger, new.key)
        assert run is not None
        return Added(Outcome.TAKEN, run)
