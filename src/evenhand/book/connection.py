"""Opening the ledger's file: settings, migrations, one write at a time, and SQLite's failures told in our words."""

from __future__ import annotations

import contextlib
import sqlite3
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from evenhand import __version__
from evenhand.book.schema import APPLICATION_ID, MIGRATIONS, Migration, append_only, tables
from evenhand.errors import BookError, Problem

#: How long one process waits for another's write, seconds.
BUSY_S = 10.0
#: STRICT tables came with this version of SQLite.
_OLDEST_SQLITE = (3, 37, 0)
_CODES = {
    sqlite3.SQLITE_BUSY: "book-busy",
    sqlite3.SQLITE_LOCKED: "book-busy",
    sqlite3.SQLITE_FULL: "disk-full",
    sqlite3.SQLITE_CORRUPT: "book-damaged",
    sqlite3.SQLITE_NOTADB: "book-damaged",
    sqlite3.SQLITE_READONLY: "book-unwritable",
    sqlite3.SQLITE_CANTOPEN: "book-unwritable",
    sqlite3.SQLITE_IOERR: "book-unwritable",
}
_WAY_OUT = {
    "book-busy": "wait until the other Evenhand that is writing has finished, then run this again: nothing was changed",
    "disk-full": "make room and run this again: what was reported as taken in is safe",
    "book-damaged": "bring book.sqlite back from a backup (with its -wal file, if any); originals/ still holds every log",
    "book-unwritable": "check that the folder can be written to, is not marked as online-only, and is not on a read-only medium",
}


def now() -> str:
    """The present moment, ISO 8601, UTC, whole seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


class Connection:
    """The open ledger. One per process and thread; several processes may hold one each."""

    def __init__(self, path: Path, migrations: Sequence[Migration] = MIGRATIONS) -> None:
        self.path = path
        if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
            what = f"this Python carries SQLite {sqlite3.sqlite_version}; a book needs 3.37 or newer"
            raise BookError(Problem("old-sqlite", what, do="install a newer Python 3"))
        with self.told():
            self._sqlite = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
        try:
            self._prepare(migrations)
        except BaseException:
            self._sqlite.close()
            raise

    def close(self) -> None:
        """Close; the last process to close folds the -wal file into book.sqlite."""
        self._sqlite.close()

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """What a query gives."""
        with self.told():
            return self._sqlite.execute(sql, values).fetchall()

    def insert(self, table: str, **values: object) -> int:
        """Append one row and return its number; only inside `writing`."""
        names = ", ".join(values)
        marks = ", ".join("?" * len(values))
        with self.told():
            cursor = self._sqlite.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(values.values()))
        return cursor.lastrowid or 0

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction: everything in it is on the disk when it ends, or nothing is. Waits for other writers."""
        with self.told():
            self._sqlite.execute("BEGIN IMMEDIATE")
        try:
            yield
            with self.told():
                self._sqlite.execute("COMMIT")
        except BaseException:
            if self._sqlite.in_transaction:
                self._sqlite.execute("ROLLBACK")
            raise

    @contextlib.contextmanager
    def told(self) -> Iterator[None]:
        """Turns SQLite's failures into BookErrors with a way out."""
        try:
            yield
        except sqlite3.Error as error:
            code = getattr(error, "sqlite_errorcode", None)
            slug = _CODES.get(code & 0xFF) if isinstance(code, int) else None
            if slug is None:
                raise
            raise BookError(Problem(slug, f"the ledger cannot be used ({error})", self.path.name, _WAY_OUT[slug])) from error

    def _prepare(self, migrations: Sequence[Migration]) -> None:
        with self.told():
            self._sqlite.execute("PRAGMA synchronous = FULL")
            self._sqlite.execute("PRAGMA foreign_keys = ON")
            self._sqlite.execute("PRAGMA recursive_triggers = ON")  # else INSERT OR REPLACE slips past the delete trigger
            self._refuse_strangers(len(migrations))
            self._use_wal()
        self._migrate(migrations)

    def _use_wal(self) -> None:
        """Where the file system cannot do WAL, SQLite stays with its rollback journal, which is as safe.

        Two processes that open a new book at the same instant both switch; SQLite turns one away without waiting.
        """
        until = time.monotonic() + BUSY_S
        while self._sqlite.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            try:
                self._sqlite.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                    raise
                time.sleep(0.01)

    def _version(self) -> int:
        return int(self._sqlite.execute("PRAGMA user_version").fetchone()[0])

    def _refuse_strangers(self, known: int) -> None:
        mark = self._sqlite.execute("PRAGMA application_id").fetchone()[0]
        if mark != APPLICATION_ID and (mark or tables(self._sqlite)):
            raise BookError(Problem("not-a-book", "this SQLite file is not an Evenhand ledger", self.path.name, "move it away"))
        version = self._version()
        if version > known:
            what = f"this book was written by a newer Evenhand (its tables are of version {version}, this one knows {known})"
            raise BookError(Problem("newer-book", what, self.path.name, "update Evenhand; nothing was changed"))

    def _migrate(self, migrations: Sequence[Migration]) -> None:
        while self._version() < len(migrations):
            with self.writing(), self.told():
                version = self._version() + 1  # another process may have gone ahead meanwhile
                if version <= len(migrations):
                    self._step(version, migrations[version - 1])

    def _step(self, version: int, migration: Migration) -> None:
        for statement in _statements(migration.sql):
            self._sqlite.execute(statement)
        for table in tables(self._sqlite):
            for trigger in append_only(table):
                self._sqlite.execute(trigger)
        self.insert("migrations", version=version, what=migration.what, at=now(), by_version=__version__)
        self._sqlite.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        self._sqlite.execute(f"PRAGMA user_version = {version}")


def _statements(sql: str) -> Iterator[str]:
    """The single statements of a script. (`executescript` would end the transaction before it begins.)"""
    piece = ""
    for line in sql.splitlines(keepends=True):
        piece += line
        if sqlite3.complete_statement(piece):
            yield piece
            piece = ""
