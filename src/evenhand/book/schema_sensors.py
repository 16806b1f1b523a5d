"""The ledger's tables of sensor logs: which column is what, the logs themselves, and how they line up with runs."""

from __future__ import annotations

from typing import Final

SENSORS: Final = """
CREATE TABLE sensor_mappings ( -- What a person said the columns of a layout are. The latest row of a shape counts.
  id          INTEGER PRIMARY KEY, -- counted from 1
  shape       TEXT NOT NULL, -- layout of the logs it is for
  time_column TEXT NOT NULL, -- column of times: header name, or number counted from 1
  columns     TEXT NOT NULL, -- the other columns: JSON object, sensor -> header name or number
  at          TEXT NOT NULL, -- when, ISO 8601, UTC
  by_version  TEXT NOT NULL  -- version of Evenhand
) STRICT;

CREATE TABLE sensor_runs ( -- Which run lies where in a sensor log. The latest row of a run counts.
  id         INTEGER PRIMARY KEY, -- counted from 1
  run_id     INTEGER NOT NULL REFERENCES runs (id),    -- the run
  sha256     TEXT NOT NULL REFERENCES logs (sha256),   -- the sensor log, in originals/ like any other
  source     TEXT NOT NULL, -- path it came from, as given; never opened again
  shape      TEXT NOT NULL, -- its layout, which tells its mapping
  begins     REAL NOT NULL, -- when the run's recording began, in seconds of the sensor log's own times
  unsure_s   REAL NOT NULL CHECK (unsure_s >= 0), -- how far that may be off, seconds
  how        TEXT NOT NULL, -- by what it was lined up, for people
  at         TEXT NOT NULL, -- when, ISO 8601, UTC
  by_version TEXT NOT NULL  -- version of Evenhand
) STRICT;
CREATE INDEX sensor_runs_of_run ON sensor_runs (run_id, id);
"""
