"""The ledger's table of results that came without frames: what a title printed of itself, scores of other tests."""

from __future__ import annotations

from typing import Final

RESULTS: Final = """
CREATE TABLE results ( -- Results of runs that have no frames; such a run has no row in readings.
  run_id      INTEGER PRIMARY KEY REFERENCES runs (id), -- the run
  average     REAL CHECK (average > 0), -- average frame rate, frames per second; empty where it was not told
  low         REAL CHECK (low > 0),     -- low, frames per second, by a definition that nobody stated
  score       REAL CHECK (score > 0),   -- score, on a scale of its own
  pass_number INTEGER CHECK (pass_number >= 1), -- which of several passes of the test it was
  line        INTEGER NOT NULL CHECK (line >= 1), -- line of the original table that it stands in, counted from 1
  account     TEXT NOT NULL,    -- what was understood, for people
  at          TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version  TEXT NOT NULL,    -- version of Evenhand that took it in
  CHECK (coalesce(average, low, score) IS NOT NULL)
) STRICT;
"""
