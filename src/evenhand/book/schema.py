"""The ledger's tables: numbered migrations, each run in one transaction with its record; a comment per table and column.

`describe` turns the comments into the reference page, so page and ledger cannot part.
"""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass
from typing import Final

from evenhand.book.schema_bench import BENCH
from evenhand.book.schema_inbox import INBOX
from evenhand.book.schema_results import RESULTS
from evenhand.book.schema_sensors import SENSORS

#: "EVHN": tells a book from any other SQLite file.
APPLICATION_ID: Final = 0x4556484E


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the schema. `what` is its record, `sql` its statements."""

    what: str
    sql: str


_FIRST = """
CREATE TABLE migrations ( -- Steps by which this ledger's tables were made.
  version    INTEGER PRIMARY KEY, -- number of the step, counted from 1; the last one is also SQLite's user_version
  what       TEXT NOT NULL,       -- what the step did
  at         TEXT NOT NULL,       -- when, ISO 8601, UTC
  by_version TEXT NOT NULL        -- version of Evenhand that ran it
) STRICT;

CREATE TABLE logs ( -- Frame logs whose bytes lie in originals/.
  sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64), -- SHA-256 of the log's bytes, its name in originals/
  bytes      INTEGER NOT NULL, -- size of the log, unpacked
  at         TEXT NOT NULL,    -- when it was first taken in, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand that took it in
) STRICT;

CREATE TABLE runs ( -- Runs as taken in: which recording each log is said to be.
  id         INTEGER PRIMARY KEY, -- counted from 1 in the order of taking in
  title      TEXT NOT NULL,    -- name of the title in study.toml
  scene      TEXT NOT NULL,    -- name of the scene
  setup      TEXT NOT NULL,    -- name of the setup
  visit      INTEGER NOT NULL CHECK (visit >= 1), -- number of the visit
  run        INTEGER NOT NULL CHECK (run >= 1),   -- number of the run in the visit
  sha256     TEXT NOT NULL REFERENCES logs (sha256), -- the log
  source     TEXT NOT NULL,    -- path the log came from, as given; never opened again
  proven     INTEGER NOT NULL CHECK (proven IN (0, 1)), -- 1 = a snapshot of the PC confirmed the setup; 0 = unproven
  started    TEXT,             -- when the recording began, ISO 8601, where known
  at         TEXT NOT NULL,    -- when it was taken in, ISO 8601, UTC
  by_version TEXT NOT NULL,    -- version of Evenhand that took it in
  UNIQUE (title, scene, setup, visit, run)
) STRICT;

CREATE TABLE readings ( -- How the log of a run is read. The latest row of a run counts.
  id            INTEGER PRIMARY KEY, -- counted from 1
  run_id        INTEGER NOT NULL REFERENCES runs (id), -- the run
  shape         TEXT NOT NULL,    -- layout of the log: the key under which a recipe is remembered
  log_column    TEXT NOT NULL,    -- column that holds the frames: header name, or number counted from 1
  role          TEXT NOT NULL,    -- what the column is: elapsed, duration, rate
  unit          TEXT NOT NULL,    -- its unit: s, ms, us, 100ns, ns, per_s, clock
  decimal_mark  TEXT,             -- decimal mark, where it was settled
  delimiter     TEXT,             -- delimiter, where it was settled
  where_column  TEXT,             -- column of a filter, for logs of several programs
  where_value   TEXT,             -- value that rows must have there
  interval      TEXT NOT NULL,    -- what an interval is measured between: present, shown, unstated
  skip_bad_rows INTEGER NOT NULL CHECK (skip_bad_rows IN (0, 1)), -- 1 = rows that are no frame were passed over on request
  sampled       INTEGER NOT NULL CHECK (sampled IN (0, 1)),       -- 1 = a row per polling interval: no lows
  bad_rows      INTEGER NOT NULL, -- how many rows were passed over
  frames        INTEGER NOT NULL, -- how many frames were read
  total_ns      INTEGER NOT NULL, -- sum of their durations, nanoseconds
  frames_sha256 TEXT NOT NULL,    -- SHA-256 of the durations as little-endian 64-bit nanoseconds
  account       TEXT NOT NULL,    -- what the reader understood, for people
  at            TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version    TEXT NOT NULL     -- version of Evenhand that read it
) STRICT;
CREATE INDEX readings_of_run ON readings (run_id, id);

CREATE TABLE recipes ( -- What a person settled about an unclear layout. The latest row of a shape counts.
  id            INTEGER PRIMARY KEY, -- counted from 1
  shape         TEXT NOT NULL,    -- layout of the logs it is for
  log_column    TEXT NOT NULL,    -- column that holds the frames: header name, or number counted from 1
  role          TEXT NOT NULL,    -- what the column is
  unit          TEXT NOT NULL,    -- its unit
  decimal_mark  TEXT,             -- decimal mark, where it was settled
  delimiter     TEXT,             -- delimiter, where it was settled
  where_column  TEXT,             -- column of a filter
  where_value   TEXT,             -- value that rows must have there
  interval      TEXT NOT NULL,    -- what an interval is measured between: present, shown, unstated
  at            TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version    TEXT NOT NULL     -- version of Evenhand
) STRICT;

CREATE TABLE stretches ( -- Which stretch of a scene counts. The latest row of a scene counts.
  id         INTEGER PRIMARY KEY, -- counted from 1
  scene      TEXT NOT NULL,    -- "title/scene"
  pace       TEXT NOT NULL,    -- what fixes the scene's length: clock, frames
  start_rule TEXT NOT NULL,    -- rule that finds the start of each log
  skip       REAL NOT NULL,    -- passed over after the start: seconds (clock) or frames
  length     REAL NOT NULL,    -- counted from there: seconds (clock) or frames; 0 = to the end
  reference  TEXT NOT NULL,    -- pace profile that logs are lined up by: JSON list of shares of the median pace
  decided_by TEXT NOT NULL,    -- who decided: a person, or evenhand
  why        TEXT NOT NULL,    -- on what grounds
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
CREATE INDEX stretches_of_scene ON stretches (scene, id);

CREATE TABLE standings ( -- Decisions about runs. The latest row of a run counts; a run without one is kept.
  id         INTEGER PRIMARY KEY, -- counted from 1
  run_id     INTEGER NOT NULL REFERENCES runs (id), -- the run
  standing   TEXT NOT NULL CHECK (standing IN ('kept', 'set aside', 'to redo')), -- what was decided
  decided_by TEXT NOT NULL,    -- a person's name, or "rule: <check>"
  why        TEXT NOT NULL,    -- on what grounds
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
CREATE INDEX standings_of_run ON standings (run_id, id);

CREATE TABLE events ( -- What happened to the book, in order.
  id         INTEGER PRIMARY KEY, -- counted from 1
  kind       TEXT NOT NULL,    -- created, same-log, recipe, stretch, standing, reading, rebuilt, sealed, note
  text       TEXT NOT NULL,    -- what happened, for people
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
"""

_SEALS = """
CREATE TABLE seals ( -- Protocols as they were sealed. The latest row counts; the earlier ones are amended by it.
  id         INTEGER PRIMARY KEY, -- counted from 1
  sha256     TEXT NOT NULL CHECK (length(sha256) = 64), -- SHA-256 of the text as UTF-8
  text       TEXT NOT NULL,    -- the protocol, as canonical TOML
  runs       INTEGER NOT NULL, -- runs in the book when it was sealed
  at_hand    INTEGER NOT NULL, -- logs that were being taken in at that moment, so recorded already
  sealed_by  TEXT NOT NULL,    -- who sealed it: a person, or evenhand at the first taking in
  why        TEXT NOT NULL,    -- why the protocol was amended; empty in the first seal
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
"""

#: In order; a published one is never edited, only followed by another.
MIGRATIONS: Final[tuple[Migration, ...]] = (
    Migration("the ledger's first tables", _FIRST),
    Migration("seals of the protocol", _SEALS),
    Migration("the bench: snapshots, visits, plans, facts of titles", BENCH),
    Migration("results without frames", RESULTS),
    Migration("watched folders", INBOX),
    Migration("sensor logs", SENSORS),
)


def tables(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Names of the ledger's tables, in the order of their making."""
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid")
    return tuple(name for (name,) in rows)


def append_only(table: str) -> tuple[str, str]:
    """The two triggers that refuse to change or delete a row of a table."""
    refuse = "BEGIN SELECT RAISE(ABORT, 'append only: a decision is a new row'); END"
    return (
        f"CREATE TRIGGER IF NOT EXISTS {table}_no_update BEFORE UPDATE ON {table} {refuse}",
        f"CREATE TRIGGER IF NOT EXISTS {table}_no_delete BEFORE DELETE ON {table} {refuse}",
    )


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table, as its comment describes it."""

    name: str
    type: str
    required: bool
    comment: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the ledger, as its comments describe it."""

    name: str
    comment: str
    columns: tuple[Column, ...]


def described() -> tuple[Table, ...]:
    """All tables with all columns, read from a ledger made for the purpose (SQLite keeps the comments of its tables)."""
    connection = sqlite3.connect(":memory:")
    try:
        for migration in MIGRATIONS:
            connection.executescript(migration.sql)
        return tuple(_described(connection, name) for name in tables(connection))
    finally:
        connection.close()


def _described(connection: sqlite3.Connection, table: str) -> Table:
    (sql,) = connection.execute("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)).fetchone()
    head = re.search(r"\(\s*--\s*(.+)", sql)
    columns = []
    for _, name, kind, not_null, _, in_key in connection.execute(f"PRAGMA table_info({table})"):
        found = re.search(rf"^\s*{name}\s.*?--\s*(.+)$", sql, re.MULTILINE)
        columns.append(Column(name, kind, bool(not_null or in_key), found.group(1).strip() if found else ""))
    return Table(table, head.group(1).strip() if head else "", tuple(columns))


def describe() -> str:
    """The ledger's tables in Markdown, for the reference page."""
    parts = []
    for table in described():
        rows = "\n".join(
            f"| `{c.name}` | {c.type.lower()}{'' if c.required else ', may be empty'} | {c.comment} |" for c in table.columns
        )
        parts.append(f"### `{table.name}`\n\n{table.comment}\n\n| column | type | meaning |\n| --- | --- | --- |\n{rows}\n")
    return "\n".join(parts)
