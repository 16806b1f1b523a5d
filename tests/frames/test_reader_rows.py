"""Rows that cannot be frames: each refuses the log with its place, and is left out where that is asked for."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.errors import LogError
from evenhand.frames.model import Reading
from evenhand.frames.read import read_log

COUNT = 400
NS = np.rint(4.2e6 * np.exp(0.1 * np.random.default_rng(8).standard_normal(COUNT)) / 100).astype(np.int64) * 100
STAMPS = np.concatenate(([0], np.cumsum(NS)))
WAY_OUT = "\n  -> record the run again, or take it without these rows with --skip-bad-rows"


def row(i: int, at: str | None = None, lasted: str | None = None) -> str:
    return f"{i},{at or f'{STAMPS[i + 1] / 1e9:.7f}'},{lasted or f'{NS[i] / 1e6:.4f}'}"


GOOD = [row(i) for i in range(COUNT)]


def log(rows: list[str], header: str = "a,b,c") -> bytes:
    return ("\n".join([header, *rows]) + "\n").encode()


def changed(i: int, text: str) -> bytes:
    return log([*GOOD[:i], text, *GOOD[i + 1 :]])


def read(data: bytes, skip: bool = False) -> Reading:
    return read_log(data, name="quay.csv", skip_bad_rows=skip)


BAD = {
    "text": (changed(300, row(300, lasted="abc")), "line 302, column 3: not a number: 'abc'"),
    "no number": (changed(300, row(300, lasted="NaN")), "line 302, column 3: no number: 'nan'"),
    "negative": (changed(300, row(300, lasted="-3.2")), "line 302, column 3: no time at all, or negative: '-3.2'"),
    "zero": (changed(300, row(300, lasted="0.0000")), "line 302, column 3: no time at all, or negative: '0.0'"),
    "rows missing": (
        log([*GOOD[:300], *GOOD[303:]]),
        f"line 302, column 3: rows are missing above it: '{NS[303] / 1e6:.4f}'".replace("0'", "'"),
    ),
    "a row twice": (
        log([*GOOD[:300], *GOOD[299:]]),
        f"line 302, column 3: it lasts longer than the time since the row above: '{NS[299] / 1e6:.4f}'".replace("0'", "'"),
    ),
    "cells missing in the last row": (
        changed(COUNT - 1, GOOD[-1].rpartition(",")[0]),
        f"line 401, column 2: 2 cells instead of 3: '{STAMPS[-1] / 1e9:.7f}'",
    ),
    "cells too many": (changed(300, GOOD[300] + ",7"), "line 302, column 3: 4 cells instead of 3: '7'"),
    "time falls": (
        log([f"{s / 1e9 - (5.0 if i == 300 else 0.0) + 10:.7f}" for i, s in enumerate(STAMPS)], "at"),
        f"line 302, column 1: time goes backwards: '{round(STAMPS[300] / 1e9 + 5, 7)}'",
    ),
    "the same time": (
        log([f"{STAMPS[i - (i == 300)] / 1e9:.7f}" for i in range(COUNT + 1)], "at"),
        f"line 302, column 1: the same time as in the row above: '{round(STAMPS[299] / 1e9, 7)}'",
    ),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_row_refuses_the_log_with_its_place(kind: str) -> None:
    data, told = BAD[kind]
    with pytest.raises(LogError) as caught:
        read(data)
    assert str(caught.value) == f"quay.csv, {told}  [log-bad-row]{WAY_OUT}"


@pytest.mark.parametrize("kind", ["text", "no number", "negative", "zero"])
def test_a_bad_row_left_out_leaves_the_others_as_they_are(kind: str) -> None:
    reading = read(BAD[kind][0], skip=True)
    assert np.array_equal(reading.frames.ns, np.delete(NS, 300))
    assert [b.line for b in reading.bad_rows] == [302]
    assert reading.account.endswith("1 bad row left out")


@pytest.mark.parametrize("cell", ["abc", "3.0000000"])
def test_stamps_beside_a_bad_one_make_no_frame_of_two(cell: str) -> None:
    stamps = [f"{s / 1e9 + 5:.7f}" for s in STAMPS]
    reading = read(log([*stamps[:300], cell, *stamps[301:]], "at"), skip=True)
    assert np.array_equal(reading.frames.ns, np.delete(NS, [299, 300]))


@pytest.mark.parametrize("first", ["0.0000", "NA", ""])
@pytest.mark.parametrize("counted", [True, False])
def test_the_first_present_ends_no_frame(first: str, counted: bool) -> None:
    """Some recorders give the first present a row of its own, with zero or nothing for its duration."""
    at = [f"{s / 1e9:.7f}" for s in STAMPS]
    lasted = [first, *(f"{v / 1e6:.4f}" for v in NS)]
    rows = [f"{i},{lasted[i]}" if counted else f"{at[i]},{lasted[i]}" for i in range(COUNT + 1)]
    reading = read(log(rows, "x,y"))
    assert np.array_equal(reading.frames.ns, NS)
    assert not reading.bad_rows


@pytest.mark.parametrize("places", [9, 7, 6])
@pytest.mark.parametrize("mark", [".", ","])
def test_seconds_counted_from_a_date_lose_no_digit(places: int, mark: str) -> None:
    quantum = 10 ** (9 - places)
    ticks = (STAMPS + 1_732_490_000_123_456_789) // quantum
    rows = [f"{t // 10**places}{mark}{t % 10**places:0{places}d};7" for t in ticks.tolist()]
    assert np.array_equal(read(log(rows, "at;core")).frames.ns, np.diff(ticks) * quantum)


def counted_log(kept: list[int], step: int = 1) -> bytes:
    return ("\n".join(["no;lasted", *(f"{step * i + 7};{NS[i] / 1e6:.4f}" for i in kept)]) + "\n").encode()


@pytest.mark.parametrize("step", [1, 2])
def test_rows_lost_from_a_log_are_told_by_its_own_counter(step: int) -> None:
    """Two rows gone in one place, one in another; the frames that are there stay as they are."""
    kept = [i for i in range(COUNT) if i not in (100, 101, 300)]
    reading = read(counted_log(kept, step))
    assert reading.lost_rows == 3 and "3 rows are lost by the log's own counter" in reading.account
    assert np.array_equal(reading.frames.ns, NS[kept])
    whole = read(counted_log(list(range(COUNT)), step))
    assert whole.lost_rows == 0 and "lost" not in whole.account


def test_a_counter_that_begins_anew_has_lost_nothing() -> None:
    again = [*range(200), *range(200)]
    data = ("\n".join(["no;lasted", *(f"{n};{NS[i] / 1e6:.4f}" for i, n in enumerate(again))]) + "\n").encode()
    assert read(data).lost_rows == 0


@pytest.mark.parametrize("bad", ["57;-3.0000", "57;-3.0000;1"])
def test_a_bad_row_that_was_left_out_is_not_lost_as_well(bad: str) -> None:
    """Neither one with an impossible number nor one with a cell too many."""
    rows = counted_log(list(range(COUNT))).decode().split("\n")
    reading = read("\n".join([*rows[:51], bad, *rows[52:]]).encode(), skip=True)
    assert (len(reading.bad_rows), reading.lost_rows) == (1, 0)
    assert read("\n".join([*rows[:51], bad, *rows[52:80], *rows[81:]]).encode(), skip=True).lost_rows == 1


def test_a_long_log_is_looked_through_to_its_end() -> None:
    """Beyond the rows from which roles are told."""
    ns = np.tile(NS, 30)
    kept = [i for i in range(ns.size) if i != 11_000]
    data = ("\n".join(["no;lasted", *(f"{i};{ns[i] / 1e6:.4f}" for i in kept)]) + "\n").encode()
    assert read(data).lost_rows == 1
