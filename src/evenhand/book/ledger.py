"""Every statement that reads or appends to the ledger. Nothing is ever changed or deleted: a decision is a new row."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

from evenhand import __version__
from evenhand.book.connection import Connection, now
from evenhand.book.model import Event, NewResult, ReadingRecord, RunRecord, StandingRecord, StretchRecord
from evenhand.frames.model import Recipe, Role, Stretch, Unit
from evenhand.screening.model import Standing
from evenhand.study.model import RunKey, Seal

# A run is proven as its visit is: a snapshot that comes later than the log proves it all the same.
_RUN: Final = """
SELECT r.id, r.title, r.scene, r.setup, r.visit, r.run, r.sha256, r.source,
       coalesce((SELECT account FROM readings WHERE run_id = r.id ORDER BY id DESC LIMIT 1),
                (SELECT account FROM results WHERE run_id = r.id)),
       coalesce((SELECT proven FROM visits v WHERE v.setup = r.setup AND v.visit = r.visit ORDER BY id DESC LIMIT 1), r.proven),
       r.started, r.at, r.by_version
FROM runs r"""
_RECIPE: Final = "shape, log_column, role, unit, decimal_mark, delimiter, where_column, where_value, interval"


def runs(book: Connection) -> tuple[RunRecord, ...]:
    """All runs in the order in which they were taken in."""
    return tuple(_run(row) for row in book.rows(f"{_RUN} ORDER BY r.id"))


def run_of(book: Connection, key: RunKey) -> RunRecord | None:
    """The run on record under a key."""
    where = "WHERE r.title = ? AND r.scene = ? AND r.setup = ? AND r.visit = ? AND r.run = ?"
    found = book.rows(f"{_RUN} {where}", (key.title, key.scene, key.setup, key.visit, key.run))
    return _run(found[0]) if found else None


def runs_of_log(book: Connection, sha256: str) -> tuple[RunRecord, ...]:
    """Runs that are these very bytes."""
    return tuple(_run(row) for row in book.rows(f"{_RUN} WHERE r.sha256 = ? ORDER BY r.id", (sha256,)))


def next_run(book: Connection, key: RunKey) -> int:
    """The first run number after all that are taken in a key's cell and visit."""
    where = "title = ? AND scene = ? AND setup = ? AND visit = ?"
    [(last,)] = book.rows(f"SELECT max(run) FROM runs WHERE {where}", (key.title, key.scene, key.setup, key.visit))
    return (last or 0) + 1


def add_log(book: Connection, sha256: str, size: int) -> None:
    """Put a log on record unless it is."""
    if not book.rows("SELECT 1 FROM logs WHERE sha256 = ?", (sha256,)):
        book.insert("logs", sha256=sha256, bytes=size, **_stamp())


def add_run(book: Connection, key: RunKey, sha256: str, source: str, proven: bool, started: str | None) -> int:
    """Put a run on record; its number."""
    place = {"title": key.title, "scene": key.scene, "setup": key.setup, "visit": key.visit, "run": key.run}
    return book.insert("runs", **place, sha256=sha256, source=source, proven=int(proven), started=started, **_stamp())


def add_result(book: Connection, run_id: int, new: NewResult) -> None:
    """Put on record the result of a run that has no frames."""
    found = new.result
    values = {"average": found.average, "low": found.low, "score": found.score, "pass_number": found.pass_number}
    book.insert("results", run_id=run_id, **values, line=new.line, account=new.account, **_stamp())


def add_reading(book: Connection, reading: ReadingRecord) -> int:
    """Put on record how a run's log is read; `id`, `at` and `version` are given by the ledger."""
    return book.insert(
        "readings",
        run_id=reading.run_id,
        **_recipe_values(reading.recipe),
        skip_bad_rows=int(reading.skip_bad_rows),
        sampled=int(reading.sampled),
        bad_rows=reading.bad_rows,
        frames=reading.frames,
        total_ns=reading.total_ns,
        frames_sha256=reading.frames_sha256,
        account=reading.account,
        **_stamp(),
    )


def readings(book: Connection) -> Mapping[int, ReadingRecord]:
    """The reading that counts for each run, by the run's number."""
    rest = "skip_bad_rows, sampled, bad_rows, frames, total_ns, frames_sha256, account, at, by_version"
    rows = book.rows(f"SELECT id, run_id, {_RECIPE}, {rest} FROM readings ORDER BY id")
    return {row[1]: _reading(row) for row in rows}


def add_recipe(book: Connection, recipe: Recipe) -> int:
    """Remember what a person settled about a layout."""
    return book.insert("recipes", **_recipe_values(recipe), **_stamp())


def recipes(book: Connection) -> Mapping[str, Recipe]:
    """The recipe that counts for each layout, by its shape."""
    rows = book.rows(f"SELECT {_RECIPE} FROM recipes ORDER BY id")
    return {row[0]: _recipe(row) for row in rows}


def add_stretch(book: Connection, stretch: Stretch) -> int:
    """Decide which stretch of a scene counts."""
    return book.insert(
        "stretches",
        scene=stretch.scene,
        pace=str(stretch.pace),
        start_rule=stretch.start_rule,
        skip=float(stretch.skip),
        length=float(stretch.length),
        reference=json.dumps([float(x) for x in stretch.reference]),
        decided_by=stretch.decided_by,
        why=stretch.why,
        **_stamp(),
    )


def stretches(book: Connection) -> Mapping[str, StretchRecord]:
    """The stretch that counts for each scene, by "title/scene"."""
    what = "id, scene, pace, start_rule, skip, length, reference, decided_by, why, at, by_version"
    rows = book.rows(f"SELECT {what} FROM stretches ORDER BY id")
    return {row[1]: _stretch(row) for row in rows}


def add_standing(book: Connection, run_id: int, standing: Standing, by: str, why: str) -> int:
    """Decide about a run."""
    return book.insert("standings", run_id=run_id, standing=str(standing), decided_by=by, why=why, **_stamp())


def standings(book: Connection) -> Sequence[StandingRecord]:
    """Every decision about every run, oldest first."""
    rows = book.rows("SELECT run_id, standing, decided_by, why, at, by_version FROM standings ORDER BY id")
    return [StandingRecord(run, Standing(standing), by, why, at, version) for run, standing, by, why, at, version in rows]


def add_seal(book: Connection, sha256: str, text: str, at_hand: int, by: str, why: str) -> int:
    """Seal a protocol; how many runs are in is counted here."""
    [(runs,)] = book.rows("SELECT count(*) FROM runs")
    return book.insert("seals", sha256=sha256, text=text, runs=runs, at_hand=at_hand, sealed_by=by, why=why, **_stamp())


def seals(book: Connection) -> tuple[Seal, ...]:
    """Every seal, oldest first."""
    rows = book.rows("SELECT sha256, text, runs, at_hand, sealed_by, why, at FROM seals ORDER BY id")
    return tuple(Seal(*row) for row in rows)


def add_event(book: Connection, kind: str, text: str) -> int:
    """Note what happened."""
    return book.insert("events", kind=kind, text=text, **_stamp())


def events(book: Connection) -> tuple[Event, ...]:
    """Everything that happened, oldest first."""
    rows = book.rows("SELECT id, at, by_version, kind, text FROM events ORDER BY id")
    return tuple(Event(*row) for row in rows)


def _stamp() -> dict[str, str]:
    return {"at": now(), "by_version": __version__}


def _run(row: Sequence[Any]) -> RunRecord:
    number, title, scene, setup, visit, run, sha256, source, account, proven, started, at, version = row
    key = RunKey(title, scene, setup, visit, run)
    return RunRecord(number, key, sha256, source, account or "", bool(proven), started, at, version)


def _reading(row: Sequence[Any]) -> ReadingRecord:
    number, run_id = row[:2]
    skip, sampled, bad_rows, frames, total_ns, sha256, account, at, version = row[11:]
    recipe = _recipe(row[2:11])
    return ReadingRecord(
        number, run_id, recipe, bool(skip), bool(sampled), bad_rows, frames, total_ns, sha256, account, at, version
    )


def _recipe(row: Sequence[Any]) -> Recipe:
    shape, column, role, unit, decimal, delimiter, where_column, where_value, interval = row
    where = None if where_column is None else (where_column, where_value)
    return Recipe(shape, column, Role(role), Unit(unit), decimal, delimiter, where, interval)


def _recipe_values(recipe: Recipe) -> dict[str, str | None]:
    where_column, where_value = recipe.where or (None, None)
    return {
        "shape": recipe.shape,
        "log_column": recipe.column,
        "role": str(recipe.role),
        "unit": str(recipe.unit),
        "decimal_mark": recipe.decimal,
        "delimiter": recipe.delimiter,
        "where_column": where_column,
        "where_value": where_value,
        "interval": str(recipe.interval),
    }


def _stretch(row: Sequence[Any]) -> StretchRecord:
    number, scene, pace, rule, skip, length, reference, by, why, at, version = row
    stretch = Stretch(scene, pace, rule, skip, length, tuple(json.loads(reference)), by, why)
    return StretchRecord(number, stretch, at, version)
