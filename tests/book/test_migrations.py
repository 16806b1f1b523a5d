"""The ledger's tables change by numbered steps: an older book opens, a newer one is refused, a step is whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from evenhand.book import connection, schema
from evenhand.book.book import Book
from evenhand.book.connection import Connection
from evenhand.book.model import NewRun, Outcome
from evenhand.book.schema import MIGRATIONS, Migration, describe, described
from evenhand.errors import BookError

Make = Callable[..., NewRun]

NEXT = Migration(
    "a place for notes",
    """
CREATE TABLE notes ( -- Notes about runs.
  id   INTEGER PRIMARY KEY, -- counted from 1
  text TEXT NOT NULL        -- what is to be known
) STRICT;
ALTER TABLE runs ADD COLUMN hidden INTEGER; -- 1 = not shown
""",
)


@pytest.fixture
def older(tmp_path: Path, new_run: Make) -> Path:
    """A closed book as this version writes it, which is older than one with `NEXT`."""
    with Book.create(tmp_path / "study", "question = 'q'\n") as book:
        book.add_run(new_run(1))
    return tmp_path / "study"


def version(folder: Path) -> int:
    with sqlite3.connect(folder / "book.sqlite") as plain:
        (found,) = plain.execute("PRAGMA user_version").fetchone()
    plain.close()
    return int(found)


def test_an_older_book_is_brought_up_to_date_with_a_record(older: Path, monkeypatch: pytest.MonkeyPatch, new_run: Make) -> None:
    assert version(older) == len(MIGRATIONS)
    opened = Connection(older / "book.sqlite", (*MIGRATIONS, NEXT))
    assert [row[0] for row in opened.rows("SELECT what FROM migrations ORDER BY version")] == [
        *(m.what for m in MIGRATIONS),
        "a place for notes",
    ]
    assert opened.rows("SELECT hidden FROM runs") == [(None,)]
    opened.insert("notes", text="kept")
    with pytest.raises(sqlite3.IntegrityError, match="append only"):
        opened.rows("DELETE FROM notes")
    opened.close()
    assert version(older) == len(MIGRATIONS) + 1


def test_a_newer_book_is_refused_and_left_alone(older: Path) -> None:
    Connection(older / "book.sqlite", (*MIGRATIONS, NEXT)).close()
    before = (older / "book.sqlite").read_bytes()
    with pytest.raises(BookError) as error:
        Book.open(older)
    assert str(error.value) == (
        f"book.sqlite: this book was written by a newer Evenhand (its tables are of version {len(MIGRATIONS) + 1}, this one "
        f"knows {len(MIGRATIONS)})  [newer-book]\n  -> update Evenhand; nothing was changed"
    )
    assert (older / "book.sqlite").read_bytes() == before


def test_a_step_that_fails_half_way_leaves_the_book_as_it_was(older: Path, new_run: Make) -> None:
    broken = Migration("half a step", NEXT.sql + "CREATE TABLE runs (id INTEGER);\n")
    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        Connection(older / "book.sqlite", (*MIGRATIONS, broken))
    assert version(older) == len(MIGRATIONS)
    with sqlite3.connect(older / "book.sqlite") as plain:
        assert not plain.execute("SELECT name FROM sqlite_master WHERE name = 'notes'").fetchall()
    plain.close()
    with Book.open(older) as book:
        assert book.add_run(new_run(2)).outcome is Outcome.TAKEN


def test_an_sqlite_without_strict_tables_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 31, 1))
    with pytest.raises(BookError) as error:
        Connection(tmp_path / "book.sqlite")
    assert error.value.problems[0].slug == "old-sqlite"


def test_a_ledger_that_others_write_to_for_too_long_is_told(older: Path, monkeypatch: pytest.MonkeyPatch, new_run: Make) -> None:
    monkeypatch.setattr(connection, "BUSY_S", 0.05)
    other = sqlite3.connect(older / "book.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Book.open(older) as book:
        with pytest.raises(BookError) as error:
            book.add_run(new_run(2))
        assert error.value.problems[0].slug == "book-busy"
        other.execute("ROLLBACK")
        assert book.add_run(new_run(2)).outcome is Outcome.TAKEN
    other.close()


def test_a_read_only_ledger_is_told(older: Path, monkeypatch: pytest.MonkeyPatch, new_run: Make) -> None:
    with Book.open(older) as book:
        book._ledger._sqlite.execute("PRAGMA query_only = ON")
        with pytest.raises(BookError) as error:
            book.add_run(new_run(2))
        assert error.value.problems[0].slug == "book-unwritable"


def test_every_table_and_column_says_what_it_is() -> None:
    for table in described():
        assert table.comment, table.name
        assert not [c.name for c in table.columns if not c.comment], table.name
    assert {t.name for t in described()} >= {"migrations", "logs", "runs", "readings", "stretches", "standings", "events"}
    page = describe()
    assert "| `frames_sha256` | text | SHA-256 of the durations as little-endian 64-bit nanoseconds |" in page
    assert "| `started` | text, may be empty |" in page


def test_tables_are_strict(older: Path) -> None:
    with sqlite3.connect(older / "book.sqlite") as plain:
        rows = plain.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table'").fetchall()
        assert plain.execute("PRAGMA application_id").fetchone()[0] == schema.APPLICATION_ID
        assert plain.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    plain.close()
    assert [name for name, strict in rows if not strict and not name.startswith("sqlite_")] == []
