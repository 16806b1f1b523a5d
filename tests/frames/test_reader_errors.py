"""Every refusal of a log, word for word: what, where, and what to do."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

from evenhand.errors import LogError
from evenhand.frames import load
from evenhand.frames.model import Recipe, Role, Unit
from evenhand.frames.read import UnclearLog, load_bytes, read_log, recipe_of

RNG = np.random.default_rng(8)
MS = 7.0 * np.exp(0.1 * RNG.standard_normal(2400))
ROWS = [f"{i},{v:.3f}" for i, v in enumerate(MS)]


def log(*lines: str) -> bytes:
    return ("\n".join(lines) + "\n").encode()


def refusal(data: bytes, **said: object) -> str:
    with pytest.raises(LogError) as caught:
        read_log(data, name="deck.csv", **said)  # type: ignore[arg-type]
    return str(caught.value)


def test_file_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "none.csv"
    with pytest.raises(LogError) as caught:
        load_bytes(path)
    said = f"{path}: the log cannot be read: No such file or directory  [log-unreadable]\n  -> check the path and its rights"
    assert str(caught.value) == said


def test_damaged_packing() -> None:
    packed = gzip.compress(log("no,lasted", *ROWS))
    assert refusal(packed[:-200]) == (
        "deck.csv: the compressed log is damaged or cut off: Compressed file ended before the end-of-stream marker was reached"
        "  [log-unreadable]\n  -> copy it again from where it was recorded"
    )


def test_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(load, "MOST_BYTES", 2**20)
    assert refusal(b"7.1\n" * 2**19) == (
        "deck.csv: the log is larger than 1 MB of text  [log-too-large]\n  -> record shorter, or cut the log into one file a run"
    )


@pytest.mark.parametrize("data", [b"", b"\n\n \r\n", b"\x00" * 400, b"\xef\xbb\xbf"])
def test_empty(data: bytes) -> None:
    assert refusal(data) == "deck.csv: the log is empty  [log-empty]\n  -> record the run again"


def test_binary() -> None:
    assert refusal(bytes(range(256)) * 4) == (
        "deck.csv: this is no text: 236 control characters among its first 1024  [log-not-text]\n"
        "  -> give the recorder's text log, one row a frame"
    )


def test_endless_line() -> None:
    assert refusal(log("no,lasted", *ROWS, "1" * 70_000)) == (
        "deck.csv: line 2402 is longer than 65536 characters  [log-not-text]\n  -> give the text log, one row a frame"
    )


def test_prose() -> None:
    assert refusal(b"Harbour Lights ran well.\nThe deck was calm, the harbour less so.\nNo numbers here.\n") == (
        "deck.csv: no two rows have the same form: this is no table with one row a frame  [log-no-table]\n"
        "  -> give the recorder's log with one row a frame, not its summary"
    )


def test_two_rows() -> None:
    assert refusal(log("no,lasted", "0,7.1", "1,7.2")) == (
        "deck.csv: it has 2 rows of numbers, fewer than 3  [log-too-few-rows]\n  -> record the run again"
    )


def test_bad_rows_with_line_and_column() -> None:
    rows = ROWS.copy()
    rows[4], rows[9], rows[300], rows[700] = "4,seven", "9,-7.100", "300", "700,0.000"
    for i in range(800, 804):
        rows[i] = f"{i},"
    assert refusal(log("no,lasted", *rows)) == (
        "deck.csv, line 6, column 2: not a number: 'seven'  [log-bad-row]\n"
        "deck.csv, line 11, column 2: no time at all, or negative: '-7.1'  [log-bad-row]\n"
        "deck.csv, line 302, column 1: 1 cells instead of 2: '300'  [log-bad-row]\n"
        "deck.csv, line 702, column 2: no time at all, or negative: '0.0'  [log-bad-row]\n"
        "deck.csv, line 802, column 2: no number  [log-bad-row]\n"
        "  -> record the run again, or take it without these rows with --skip-bad-rows; 3 more such rows"
    )


def test_unclear_log_shows_each_reading() -> None:
    ms = 16.0 * np.exp(0.1 * np.random.default_rng(1).standard_normal(3000))
    data = log("lasted", *(f"{v:.3f}" for v in ms))
    with pytest.raises(UnclearLog) as caught:
        read_log(data, name="deck.csv")
    assert [c.flags() for c in caught.value.candidates] == [
        "--column lasted --role duration --unit ms",
        "--column lasted --role rate --unit per_s",
    ]
    first, second = (c.trace for c in caught.value.candidates)
    a, b = (c for c in caught.value.candidates)
    assert str(caught.value) == (
        "deck.csv: its numbers can be read in several ways  [log-unclear]\n"
        "  -> choose one; it is remembered for logs of this layout:\n"
        f"     --column lasted --role duration --unit ms   {a.average_rate:.1f} frames a second, 48 s; "
        f"first {', '.join(f'{v:.2f}' for v in a.first_ms)} ms; as durations its median is a frame that games have\n"
        f"       {first}\n"
        f"     --column lasted --role rate --unit per_s   {b.average_rate:.1f} frames a second, 3 min 8 s; "
        f"first {', '.join(f'{v:.2f}' for v in b.first_ms)} ms; as rates its median is one that games have\n"
        f"       {second}"
    )
    assert read_log(data, name="deck.csv", role=Role.DURATION).frames.ns[0] == round(round(ms[0], 3) * 1e6)
    assert read_log(data, name="deck.csv", seconds_hint=48).role is Role.DURATION
    assert read_log(data, name="deck.csv", seconds_hint=190).role is Role.RATE


def test_column_that_is_not_there() -> None:
    assert refusal(log("no,lasted", *ROWS), column="wait", role=Role.DURATION, unit=Unit.MS) == (
        "deck.csv: there is no column 'wait'  [log-no-column]\n  -> its columns are no and lasted"
    )


def test_column_of_words() -> None:
    rows = [f"deck,{v:.3f}" for v in MS]
    assert refusal(log("who,lasted", *rows), column="who", role=Role.DURATION, unit=Unit.MS) == (
        "deck.csv: column 'who' has no numbers to read frames from  [log-no-column]\n  -> choose a column of numbers"
    )


def test_recipe_of_another_layout() -> None:
    recipe = Recipe("',' '.' 3 a|b|c", "b", Role.DURATION, Unit.MS)
    assert refusal(log("no,lasted", *ROWS), recipe=recipe) == (
        "deck.csv: the log is laid out as ',' '.' 2 no|lasted, not as the recipe expects (',' '.' 3 a|b|c)  [recipe-misfit]\n"
        "  -> choose anew with --column, --role and --unit"
    )


def test_thousands_separators_are_refused() -> None:
    """12,345.678 is no number that rows of commas can hold."""
    rows = [f"{i};{v * 1e6:,.1f}" for i, v in enumerate(MS)]
    assert "[log-" in refusal(log("no;lasted", *rows))


def test_time_that_goes_backwards() -> None:
    stamps = [f"{v:.6f}" for v in np.cumsum(MS) / 1000]
    stamps[500] = "0.000001"
    said = refusal(log("at,lasted", *(f"{s},{v:.3f}" for s, v in zip(stamps, MS, strict=True))))
    assert said.startswith("deck.csv, line 502, column 2: time goes backwards")
    assert said.endswith("[log-bad-row]\n  -> record the run again, or take it without these rows with --skip-bad-rows")


def test_skipping_bad_rows_counts_them() -> None:
    rows = ROWS.copy()
    rows[4], rows[9], rows[700] = "4,seven", "9,-7.100", "700,0.000"
    reading = read_log(log("no,lasted", *rows), name="deck.csv", skip_bad_rows=True)
    assert [(bad.line, bad.column) for bad in reading.bad_rows] == [(6, 2), (11, 2), (702, 2)]
    assert len(reading.frames) == 2397
    assert "3 bad rows left out" in reading.account
    again = read_log(log("no,lasted", *rows), name="deck.csv", recipe=recipe_of(reading), skip_bad_rows=True)
    assert np.array_equal(again.frames.ns, reading.frames.ns)
