"""What is lost or damaged is told, or made again where it can be; a full disk loses nothing."""

from __future__ import annotations

import errno
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from evenhand.book import durable
from evenhand.book.book import Book
from evenhand.book.durable import UNFINISHED, replace_patiently
from evenhand.book.model import NewRun, Outcome
from evenhand.errors import BookError

Make = Callable[..., NewRun]


def the_original(book: Book) -> Path:
    [path] = (book.folder / "originals").rglob("*.zst")
    return path


@pytest.mark.parametrize("harm", ["cut", "bit", "other", "gone"])
def test_a_harmed_original_is_told_and_mended_by_taking_it_again(book: Book, new_run: Make, harm: str) -> None:
    new = new_run()
    run = book.add_run(new).run
    path = the_original(book)
    data = path.read_bytes()
    if harm == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif harm == "bit":
        path.write_bytes(data[:200] + bytes([data[200] ^ 1]) + data[201:])
    elif harm == "other":
        book.add_run(new_run(2))
        other = next(p for p in (book.folder / "originals").rglob("*.zst") if p != path)
        path.write_bytes(other.read_bytes())
    else:
        path.unlink()
    with pytest.raises(BookError) as error:
        book.original(run.sha256)
    [problem] = error.value.problems
    assert problem.slug == ("original-missing" if harm == "gone" else "original-damaged")
    assert problem.where == f"originals/{run.sha256[:2]}/{run.sha256}.zst"
    assert "take the same log in again" in problem.do
    assert book.add_run(new).outcome is Outcome.ALREADY
    assert book.original(run.sha256) == new.log


def test_mending_needs_a_log_that_is_on_record(book: Book, new_run: Make) -> None:
    book.add_run(new_run(1))
    assert book.mend_original(new_run(1).log)
    assert not book.mend_original(b"some other log")
    assert len(list((book.folder / "originals").rglob("*.zst"))) == 1


@pytest.mark.parametrize("position", [0, 3, 40, 200, -60, -20, -5, -1])
def test_damaged_derived_data_are_as_good_as_missing(book: Book, new_run: Make, position: int) -> None:
    book.add_run(new_run())
    book.keep_table("runs", pl.DataFrame({"value": [1.5, 2.5]}))
    [reading] = book.readings().values()
    for path in (book.folder / "derived").rglob("*.parquet"):
        data = bytearray(path.read_bytes())
        data[position] ^= 0xFF
        path.write_bytes(data)
    assert book.kept_frames(reading.frames_sha256) is None
    assert book.kept_table("runs") is None
    book.keep_frames(new_run().reading.frames)
    kept = book.kept_frames(reading.frames_sha256)
    assert kept is not None
    np.testing.assert_array_equal(kept.ns, new_run().reading.frames.ns)


def test_a_new_table_takes_the_place_of_the_old(book: Book) -> None:
    for value in (1.0, 2.0):
        book.keep_table("runs", pl.DataFrame({"value": [value]}))
    table = book.kept_table("runs")
    assert table is not None
    assert table["value"].to_list() == [2.0]
    assert len(list((book.folder / "derived").glob("runs.*"))) == 1


def test_derived_frames_that_no_run_has_are_tidied_away(book: Book, new_run: Make) -> None:
    book.add_run(new_run(1))
    book.keep_frames(new_run(2).reading.frames)
    book.tidy()
    [left] = (book.folder / "derived" / "frames").rglob("*.parquet")
    [reading] = book.readings().values()
    assert reading.frames_sha256.startswith(left.name.partition(".")[0])


@pytest.mark.parametrize("where", ["write", "fsync", "replace"])
def test_a_full_disk_while_keeping_an_original(book: Book, new_run: Make, monkeypatch: pytest.MonkeyPatch, where: str) -> None:
    book.add_run(new_run(1))

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        if where == "write":
            patch.setattr(Path, "open", full)
        elif where == "fsync":
            patch.setattr(os, "fsync", full)
        else:
            patch.setattr(durable, "replace_patiently", full)
        with pytest.raises(BookError) as error:
            book.add_runs([new_run(2), new_run(3)])
    assert error.value.problems[0].slug == "disk-full"
    assert "what was reported as taken in is safe" in str(error.value)
    assert [run.key.run for run in book.runs()] == [1]
    assert not list(book.folder.rglob(f"{UNFINISHED}*"))
    assert [a.outcome for a in book.add_runs([new_run(2), new_run(3)])] == [Outcome.TAKEN, Outcome.TAKEN]


def test_a_full_disk_while_writing_the_ledger(book: Book, new_run: Make) -> None:
    """SQLite itself meets the limit: its file may not grow by another page."""
    book.add_run(new_run(1))
    connection = book._ledger._sqlite
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(BookError) as error:
        book.add_runs([new_run(n) for n in range(2, 60)])
    assert error.value.problems[0].slug == "disk-full"
    assert [run.key.run for run in book.runs()] == [1]
    connection.execute("PRAGMA max_page_count = 100000")
    added = book.add_runs([new_run(n) for n in range(2, 60)])
    assert {a.outcome for a in added} == {Outcome.TAKEN}


def test_a_full_disk_while_keeping_derived_data_costs_nothing(book: Book, new_run: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = durable.write_whole

    def full_for_caches(path: Path, data: bytes, *, durable: bool = True) -> None:
        if not durable:
            raise OSError(errno.ENOSPC, "No space left on device")
        whole(path, data)

    monkeypatch.setattr("evenhand.book.derived.write_whole", full_for_caches)
    assert book.add_run(new_run()).outcome is Outcome.TAKEN
    [reading] = book.readings().values()
    assert book.kept_frames(reading.frames_sha256) is None


def test_a_folder_that_cannot_be_written_to_is_told(book: Book, new_run: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(durable, "replace_patiently", refused)
    with pytest.raises(BookError) as error:
        book.add_run(new_run())
    assert error.value.problems[0].slug == "book-unwritable"


def test_a_file_that_another_program_holds_for_a_moment_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What Windows answers while a virus scanner or a cloud client looks at a new file."""
    really, refusals = Path.replace, iter([True, True, True])

    def held(self: Path, target: Path) -> Path:
        if next(refusals, False):
            raise PermissionError(errno.EACCES, "held by another process")
        return really(self, target)

    monkeypatch.setattr(Path, "replace", held)
    (tmp_path / "a").write_bytes(b"new")
    replace_patiently(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"new"
    monkeypatch.setattr(durable, "_WAITS", (0.001,))
    refusals = iter([True] * 9)
    (tmp_path / "a").write_bytes(b"newer")
    with pytest.raises(PermissionError):
        replace_patiently(tmp_path / "a", tmp_path / "b")


def test_what_died_processes_left_is_swept_but_not_what_is_being_written(book: Book) -> None:
    folder = book.folder / "originals" / "ab"
    folder.mkdir(parents=True)
    old, young = folder / f"{UNFINISHED}1", folder / f"{UNFINISHED}2"
    for path in (old, young):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 7200,) * 2)
    book.tidy()
    assert young.exists() and not old.exists()


def test_a_damaged_ledger_and_a_foreign_file_are_told(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text("question = 'q'\n", encoding="utf-8")
    ledger = tmp_path / "book.sqlite"
    ledger.write_bytes(b"this is no database, but it is long enough to be taken for one" * 40)
    with pytest.raises(BookError) as error:
        Book.open(tmp_path)
    assert error.value.problems[0].slug == "book-damaged"
    ledger.unlink()
    foreign = sqlite3.connect(ledger)
    foreign.execute("CREATE TABLE songs (name TEXT)")
    foreign.commit()
    foreign.close()
    with pytest.raises(BookError) as error:
        Book.open(tmp_path)
    assert error.value.problems[0].slug == "not-a-book"


def test_a_ledger_that_is_cut_short_is_told(tmp_path: Path, new_run: Make) -> None:
    with Book.create(tmp_path / "study", "question = 'q'\n") as book:
        book.add_runs([new_run(n) for n in range(1, 30)])
    ledger = tmp_path / "study" / "book.sqlite"
    ledger.write_bytes(ledger.read_bytes()[:9000])
    with pytest.raises(BookError) as error, Book.open(tmp_path / "study") as book:
        book.runs()
    assert error.value.problems[0].slug == "book-damaged"
