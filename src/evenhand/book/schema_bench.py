"""The ledger's tables about the bench: snapshots of the PC, visits, waived changes, plans, facts of titles."""

from __future__ import annotations

from typing import Final

BENCH: Final = """
CREATE TABLE snapshots ( -- What a PC said of itself at a moment.
  id         INTEGER PRIMARY KEY, -- counted from 1
  sha256     TEXT NOT NULL CHECK (length(sha256) = 64), -- SHA-256 of the answers as UTF-8
  answers    TEXT NOT NULL,    -- raw answers as JSON, keys in order; understood anew by every version
  typed      TEXT NOT NULL,    -- facts that study.toml stated then: JSON object, fact -> text; never read from the PC
  taken_at   TEXT NOT NULL,    -- when the PC was asked, ISO 8601, by its own clock
  machine    TEXT NOT NULL,    -- tells machines apart: digest of network name and board, no serial number
  source     TEXT NOT NULL,    -- "this PC", or the file it came from
  at         TEXT NOT NULL,    -- when it was taken in, ISO 8601, UTC
  by_version TEXT NOT NULL,    -- version of Evenhand that took it in
  UNIQUE (sha256, typed)
) STRICT;

CREATE TABLE visits ( -- Visits and what proves them. The latest row of a visit counts; it has a row for each of its snapshots.
  id          INTEGER PRIMARY KEY, -- counted from 1
  setup       TEXT NOT NULL,    -- name of the setup
  visit       INTEGER NOT NULL CHECK (visit >= 1),       -- number of the visit
  snapshot_id INTEGER REFERENCES snapshots (id),         -- snapshot taken in it; empty where there is none
  proven      INTEGER NOT NULL CHECK (proven IN (0, 1)), -- 1 = the snapshot proves the setup; 0 = its runs are unproven
  why         TEXT NOT NULL,    -- reason for which it has its label although a snapshot contradicts it; else empty
  tester      TEXT NOT NULL,    -- who recorded
  began       TEXT NOT NULL,    -- when the visit began, ISO 8601; a later one than in the rows before: it was begun anew
  at          TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version  TEXT NOT NULL     -- version of Evenhand
) STRICT;
CREATE INDEX visits_of_setup ON visits (setup, visit, id);

CREATE TABLE waivers ( -- Changes of the PC that were looked at and do not matter. The latest row of fact and values counts.
  id           INTEGER PRIMARY KEY, -- counted from 1
  fact         TEXT NOT NULL,    -- what changed: a fact of the PC, or "title: fact"
  value_before TEXT NOT NULL,    -- one value, as JSON; null = not readable
  value_after  TEXT NOT NULL,    -- the other value, as JSON; which came first does not matter
  holds        INTEGER NOT NULL CHECK (holds IN (0, 1)), -- 1 = does not matter; 0 = taken back, it matters again
  why          TEXT NOT NULL,    -- on what grounds
  decided_by   TEXT NOT NULL,    -- a person's name
  at           TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version   TEXT NOT NULL     -- version of Evenhand
) STRICT;

CREATE TABLE plans ( -- Orders of visits as they were planned. The latest row counts.
  id         INTEGER PRIMARY KEY, -- counted from 1
  seed       INTEGER NOT NULL, -- seed of the order
  plan       TEXT NOT NULL,    -- the plan as JSON
  why        TEXT NOT NULL,    -- why it was planned anew; empty in the first
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;

CREATE TABLE title_facts ( -- What a title was at a moment. The latest row of title, setup, visit and fact counts.
  id         INTEGER PRIMARY KEY, -- counted from 1
  title      TEXT NOT NULL,    -- name of the title
  setup      TEXT,             -- setup of the visit it was found in; empty where it was no visit
  visit      INTEGER CHECK (visit >= 1), -- number of that visit
  moment     TEXT NOT NULL,    -- when it was so, ISO 8601
  fact       TEXT NOT NULL,    -- what: build, settings ...
  value      TEXT NOT NULL,    -- its value; of settings a digest of the files
  origin     TEXT NOT NULL,    -- read, typed in
  source     TEXT NOT NULL,    -- where it was read from, for people
  at         TEXT NOT NULL,    -- when, ISO 8601, UTC
  by_version TEXT NOT NULL     -- version of Evenhand
) STRICT;
CREATE INDEX title_facts_of_visit ON title_facts (title, setup, visit, id);
"""
