"""What a book remembers of the bench: nothing is kept twice, the latest row counts, and no row ever changes."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from evenhand.bench.model import Origin, Waiver
from evenhand.book.book import Book
from evenhand.book.connection import Connection
from evenhand.book.schema import MIGRATIONS

ANSWERS = {"form": "evenhand-snapshot-1", "taken_at": "2026-05-01T10:00:00+00:00", "files": {"a": "ü"}}
BEFORE = 2  # migrations of a book that knows no bench


def test_a_snapshot_is_kept_once_and_whole(book: Book) -> None:
    first, new = book.bench.add_snapshot(ANSWERS, "m1", "this PC", {"memory_timings": "30-36-36"})
    again, newer = book.bench.add_snapshot(dict(reversed(ANSWERS.items())), "m1", "a file", {"memory_timings": "30-36-36"})
    assert (new, newer, again) == (True, False, first)
    other, _ = book.bench.add_snapshot(ANSWERS, "m1", "this PC", {"memory_timings": "40-40-40"})
    assert book.bench.snapshots() == (first, other)
    assert first.typed == {"memory_timings": "30-36-36"}
    assert '"ü"' in first.answers


def test_a_run_is_proven_as_its_visit_is(book: Book, new_run) -> None:
    run = book.add_run(new_run(1)).run
    assert not run.proven
    snapshot, _ = book.bench.add_snapshot(ANSWERS, "m1", "this PC")
    book.bench.add_visit("lean", 1, snapshot.id, proven=True, began=snapshot.taken_at)
    assert book.runs()[0].proven
    book.bench.add_visit("lean", 1, snapshot.id, proven=False, began=snapshot.taken_at, why="a label was wrong")
    assert not book.runs()[0].proven
    counts = book.bench.visit("lean", 1)
    assert counts is not None and (counts.proven, counts.why) == (False, "a label was wrong")
    assert book.bench.visit("lean", 2) is None
    assert len(book.bench.visits()) == 2


def test_a_waiver_holds_for_its_two_values_until_it_is_taken_back(book: Book) -> None:
    one = Waiver("graphics_driver", "32.0.15", "32.0.16", "no word of these titles in its notes", "ada")
    book.bench.add_waiver(one)
    book.bench.add_waiver(Waiver("mains", True, None, "a desktop", "ada"))
    assert [(w.fact, w.before, w.after) for w in book.bench.waivers()] == [
        ("graphics_driver", "32.0.15", "32.0.16"), ("mains", True, None),
    ]  # fmt: skip
    book.bench.add_waiver(Waiver("graphics_driver", "32.0.16", "32.0.15", "it did matter", "bo"), holds=False)
    assert [w.fact for w in book.bench.waivers()] == ["mains"]


def test_plans_and_facts_of_titles(book: Book) -> None:
    book.bench.add_plan(7, '{"visits": []}')
    assert book.bench.add_plan(8, '{"visits": [1]}', "a visit was spoiled").seed == 8
    assert [p.seed for p in book.bench.plans()] == [7, 8]
    book.bench.add_title_fact("night-ferry", "build", "1.4.2", Origin.TYPED, "2026-05-01T10:00:00Z", visit=("lean", 1))
    book.bench.add_title_fact("night-ferry", "settings", "ab12", Origin.READ, "2026-05-01T10:00:00Z", source="video.ini")
    first, second = book.bench.title_facts()
    assert (first.setup, first.visit, first.value, first.origin) == ("lean", 1, "1.4.2", Origin.TYPED)
    assert (second.setup, second.visit, second.source) == (None, None, "video.ini")


@pytest.mark.parametrize("table", ["snapshots", "visits", "waivers", "plans", "title_facts"])
def test_rows_of_the_bench_never_change(book: Book, table: str) -> None:
    snapshot, _ = book.bench.add_snapshot(ANSWERS, "m1", "this PC")
    book.bench.add_visit("lean", 1, snapshot.id, proven=True, began="2026-05-01T10:00:00Z")
    book.bench.add_waiver(Waiver("mains", True, None, "a desktop", "ada"))
    book.bench.add_plan(7, "{}")
    book.bench.add_title_fact("t", "build", "1", Origin.TYPED, "2026-05-01T10:00:00Z")
    for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET by_version = 'x'"):
        with sqlite3.connect(book.folder / "book.sqlite") as plain, pytest.raises(sqlite3.IntegrityError, match="append only"):
            plain.execute(statement)
        plain.close()


def test_a_book_from_before_the_bench_is_brought_up_to_date_with_its_runs(tmp_path: Path) -> None:
    old = Connection(tmp_path / "book.sqlite", MIGRATIONS[:BEFORE])
    with old.writing():
        old.insert("logs", sha256="a" * 64, bytes=1, at="2026-01-01T00:00:00Z", by_version="0")
        place = {"title": "t", "scene": "s", "setup": "lean", "visit": 1, "run": 1}
        stamp = {"at": "2026-01-01T00:00:00Z", "by_version": "0"}
        old.insert("runs", **place, sha256="a" * 64, source="a.csv", proven=1, started=None, **stamp)
    old.close()
    with Book.open(tmp_path) as book:
        assert [run.proven for run in book.runs()] == [True]
        assert book.bench.snapshots() == ()
