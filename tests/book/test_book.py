"""The study folder: what goes in comes out, once, whole, and unchanged."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.book.derived import frames_digest
from evenhand.book.model import NewRun, Outcome
from evenhand.errors import BookError
from evenhand.frames.model import Recipe, Role, Stretch, Unit
from evenhand.screening.model import Standing

Make = Callable[..., NewRun]


def slug(error: pytest.ExceptionInfo[BookError]) -> str:
    return error.value.problems[0].slug


def test_the_folder_is_laid_out_as_promised(book: Book, new_run: Make) -> None:
    book.add_run(new_run())
    top = {path.name for path in book.folder.iterdir()} - {"book.sqlite-wal", "book.sqlite-shm"}
    assert top == {"study.toml", "book.sqlite", "originals", "derived", "out"}
    assert book.study_file.read_bytes().startswith(b'question = "What')
    assert b"\r" not in book.study_file.read_bytes()
    [original] = (book.folder / "originals").rglob("*.zst")
    assert original.parent.name == original.stem[:2]


def test_what_was_taken_in_comes_out_again(book: Book, new_run: Make) -> None:
    new = new_run()
    added = book.add_run(new)
    assert added.outcome is Outcome.TAKEN
    [run] = book.runs()
    assert run == added.run == book.run(new.key)
    assert (run.key, run.source, run.account, run.proven) == (new.key, new.source, new.reading.account, False)
    assert book.original(run.sha256) == new.log
    reading = book.readings()[run.id]
    assert reading.recipe == new.recipe
    assert (reading.frames, reading.total_ns) == (300, int(new.reading.frames.ns.sum()))
    kept = book.kept_frames(reading.frames_sha256)
    assert kept is not None
    assert kept.ns.dtype == np.int64
    np.testing.assert_array_equal(kept.ns, new.reading.frames.ns)


def test_a_frame_longer_than_32_bits_of_nanoseconds_is_kept_whole(book: Book, new_run: Make) -> None:
    new = new_run(longest_ms=5000.0)
    book.add_run(new)
    kept = book.kept_frames(frames_digest(new.reading.frames))
    assert kept is not None
    assert kept.ns.max() == 5_000_000_000


def test_the_same_log_twice_changes_nothing(book: Book, new_run: Make) -> None:
    first = book.add_run(new_run())
    before = (book.runs(), book.events(), dict(book.readings()))
    again = book.add_run(new_run())
    assert again.outcome is Outcome.ALREADY
    assert again.run == first.run
    assert (book.runs(), book.events(), dict(book.readings())) == before


def test_another_log_under_a_key_that_is_taken_is_refused_without_a_trace(book: Book, new_run: Make) -> None:
    first = book.add_run(new_run(1))
    clash = book.add_run(new_run(1, seed=99))
    assert clash.outcome is Outcome.CLASH
    assert clash.run == first.run
    assert len(book.runs()) == 1
    assert not book.strays()
    assert book.next_run(first.run.key) == 2


def test_the_same_log_under_another_key_is_taken_and_told(book: Book, new_run: Make) -> None:
    book.add_run(new_run(1, seed=5))
    twin = book.add_run(new_run(2, seed=5))
    assert twin.outcome is Outcome.TAKEN
    assert [str(key) for key in twin.twins] == ["night-ferry/deck lean v1 r1"]
    event = book.events()[-1]
    assert event.kind == "same-log"
    assert "night-ferry/deck lean v1 r2 is the very same log as night-ferry/deck lean v1 r1" in event.text
    assert len(list((book.folder / "originals").rglob("*.zst"))) == 1


def test_a_group_is_taken_in_as_if_one_by_one(book: Book, new_run: Make) -> None:
    outcomes = [a.outcome for a in book.add_runs([new_run(1), new_run(2), new_run(1), new_run(2, seed=7)])]
    assert outcomes == [Outcome.TAKEN, Outcome.TAKEN, Outcome.ALREADY, Outcome.CLASH]
    assert [run.key.run for run in book.runs()] == [1, 2]


def test_the_latest_decision_counts_and_earlier_ones_stay(book: Book, new_run: Make) -> None:
    run = book.add_run(new_run()).run
    assert book.standings() == {}
    book.set_standing(run, Standing.SET_ASIDE, "Ada", "update in the background")
    made = book.set_standing(run, Standing.KEPT, "rule: busy-machine", "the step is in all runs")
    assert book.standings() == {run.id: made}
    assert [(d.standing, d.by) for d in book.decisions()] == [
        (Standing.SET_ASIDE, "Ada"),
        (Standing.KEPT, "rule: busy-machine"),
    ]
    assert [event.kind for event in book.events()] == ["created", "standing", "standing"]


def test_a_stretch_once_fixed_stays_unless_decided_again(book: Book) -> None:
    first = Stretch("night-ferry/deck", "clock", "rule-1", 0.0, 30.0, (1.0, 0.9, 1.1), "evenhand", "30 s, which all runs have")
    assert book.decide_stretch(first) == first
    other = Stretch("night-ferry/deck", "frames", "rule-1", 2.0, 900.0)
    assert book.decide_stretch(other) == first
    assert book.stretch("night-ferry/deck") == first
    assert book.decide_stretch(other, again=True) == other
    assert book.stretch("night-ferry/deck") == other
    assert book.stretch_records()["night-ferry/deck"].id == 2
    assert book.stretch("night-ferry/engine") is None


def test_recipes_are_remembered_by_shape_and_only_once(book: Book) -> None:
    recipe = Recipe("',' '.' 3 a|b|c", "b", Role.ELAPSED, Unit.S)
    book.remember_recipe(recipe)
    book.remember_recipe(recipe)
    changed = Recipe(recipe.shape, "c", Role.DURATION, Unit.US, where=("program", "game"))
    book.remember_recipe(changed)
    assert book.recipes() == {recipe.shape: changed}
    assert [event.kind for event in book.events()] == ["created", "recipe", "recipe"]


def test_a_run_can_be_read_anew_and_says_so(book: Book, new_run: Make) -> None:
    run = book.add_run(new_run(1)).run
    assert book.read_anew(new_run(1)) is False
    assert book.read_anew(new_run(1, longest_ms=33.0)) is True
    assert book.readings()[run.id].id == 2
    assert book.events()[-1].kind == "reading"
    with pytest.raises(BookError) as error:
        book.read_anew(new_run(2))
    assert slug(error) == "no-such-run"


@pytest.mark.parametrize("table", ["migrations", "logs", "runs", "readings", "recipes", "stretches", "standings", "events"])
def test_nothing_can_be_changed_or_deleted(book: Book, new_run: Make, table: str) -> None:
    run = book.add_run(new_run()).run
    book.set_standing(run, Standing.KEPT, "Ada", "")
    book.decide_stretch(Stretch("night-ferry/deck", "clock", "rule-1", 0.0, 30.0))
    book.remember_recipe(new_run().recipe)
    with sqlite3.connect(book.folder / "book.sqlite") as other:
        columns = [row[1] for row in other.execute(f"PRAGMA table_info({table})")]
        for sql in (f"DELETE FROM {table}", f"UPDATE {table} SET {columns[-1]} = {columns[-1]}"):
            with pytest.raises(sqlite3.IntegrityError, match="append only"):
                other.execute(sql)
    other.close()


def test_a_book_opens_again_with_all_that_it_held(tmp_path: Path, new_run: Make) -> None:
    with Book.create(tmp_path / "study", "question = 'q'\n") as book:
        run = book.add_run(new_run()).run
    assert not (tmp_path / "study" / "book.sqlite-wal").exists(), "a closed book is one file"
    with Book.open(tmp_path / "study") as book:
        assert book.runs() == (run,)


def test_a_study_without_a_ledger_gets_one(tmp_path: Path, new_run: Make) -> None:
    (tmp_path / "study.toml").write_text("question = 'q'\n", encoding="utf-8")
    with Book.open(tmp_path) as book:
        assert book.add_run(new_run()).outcome is Outcome.TAKEN


def test_a_lost_ledger_is_not_papered_over(tmp_path: Path, new_run: Make) -> None:
    with Book.create(tmp_path / "study", "question = 'q'\n") as book:
        book.add_run(new_run())
    (tmp_path / "study" / "book.sqlite").unlink()
    with pytest.raises(BookError) as error:
        Book.open(tmp_path / "study")
    assert slug(error) == "ledger-missing"
    assert "bring book.sqlite back from a backup" in str(error.value)


def test_no_study_and_a_study_already_there_are_told(tmp_path: Path) -> None:
    with pytest.raises(BookError) as error:
        Book.open(tmp_path)
    assert slug(error) == "no-study"
    assert "evenhand new" in str(error.value)
    Book.create(tmp_path, "question = 'q'\n").close()
    with pytest.raises(BookError) as error:
        Book.create(tmp_path, "question = 'other'\n")
    assert slug(error) == "study-exists"
    assert (tmp_path / "study.toml").read_text(encoding="utf-8") == "question = 'q'\n"


def test_names_beyond_ascii_and_long_ones_are_no_matter(tmp_path: Path, new_run: Make) -> None:
    folder = tmp_path / "Vergleich – Größe 日本 %20 'x'" / ("long-" * 8)
    with Book.create(folder, "question = 'ß'\n") as book:
        assert book.add_run(new_run()).outcome is Outcome.TAKEN
    deepest = max(len(str(p.relative_to(folder))) for p in folder.rglob("*"))
    assert deepest <= 90, "paths inside a book leave room for the folder's own under Windows' 260 characters"
