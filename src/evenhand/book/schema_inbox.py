"""The ledger's table about a watched folder."""

from __future__ import annotations

from typing import Final

INBOX: Final = """
CREATE TABLE inbox ( -- Files seen in watched folders and what became of each. The latest row of a path counts.
  id         INTEGER PRIMARY KEY, -- counted from 1
  path       TEXT NOT NULL,    -- absolute path of the file; it is never moved or deleted
  size       INTEGER NOT NULL, -- its size in bytes then
  mtime_ns   INTEGER NOT NULL, -- when it was last changed then, nanoseconds since 1970
  sha256     TEXT NOT NULL,    -- SHA-256 of the log in it; empty where it was not read
  outcome    TEXT NOT NULL,    -- there before, kept, doubtful, already there, unmatched, refused, left out, snapshot
  run_id     INTEGER REFERENCES runs (id), -- the run that it is; empty where it is none
  why        TEXT NOT NULL,    -- what was found, for people; empty where there is nothing to say
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
CREATE INDEX inbox_of_path ON inbox (path, id);
"""
