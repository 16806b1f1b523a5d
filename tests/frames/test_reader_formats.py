"""Logs as real recorders might leave them, every name in them invented: each comes back at the precision it was written with."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.frames.read import read_log

Ns = NDArray[np.int64]


def made_ns(count: int = 500, ms: float = 7.0, seed: int = 3) -> Ns:
    """Frames of an invented scene: a slow course, frame-to-frame noise, a few stalls, a load of 1.4 s at the start."""
    rng = np.random.default_rng(seed)
    course = 1 + 0.3 * np.sin(np.arange(count) / 60.0)
    values = ms * course * np.exp(0.08 * rng.standard_normal(count))
    values[rng.integers(5, count, 4)] *= 6
    values[2] = 1400.0
    return np.rint(values * 1e6).astype(np.int64)


NS = made_ns()
STAMPS = np.concatenate(([0], np.cumsum(NS)))


def rounded(ns: Ns, quantum: int) -> Ns:
    """As printed in milliseconds with that quantum, a power of ten, and read again."""
    places = 6 - round(np.log10(quantum))
    return np.array([round(float(f"{v / 1e6:.{places}f}") * 1e6) for v in ns.tolist()], dtype=np.int64)


def steps(quantum: int) -> Ns:
    """Durations as stamps of that quantum tell them."""
    return np.diff(rounded(STAMPS, quantum))


def clock(ns: int, digits: int, mark: str = ".", start_s: float = 72_000.0) -> str:
    ticks = (round(start_s * 1e9) + int(ns)) // 10 ** (9 - digits)
    seconds, fraction = divmod(ticks, 10**digits)
    seconds %= 86_400
    text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return f"{text}{mark}{fraction:0{digits}d}" if digits else text


def moment(ns: int, digits: int = 6, between: str = "T", zone: str = "") -> str:
    at = datetime(2026, 3, 1, 23, 59, 57, tzinfo=UTC) + timedelta(microseconds=int(ns) // 1000)
    text = at.strftime(f"%Y-%m-%d{between}%H:%M:%S.%f")
    return (text[: -(6 - digits)] if digits < 6 else text) + zone


def lines(*rows: str, end: str = "\n", last: bool = True) -> bytes:
    return (end.join(rows) + (end if last else "")).encode()


def ms(value: int, places: int = 3, mark: str = ".") -> str:
    return f"{value / 1e6:.{places}f}".replace(".", mark)


def floored(quantum: int) -> Ns:
    return np.diff(STAMPS // quantum) * quantum


EVERY = list(range(NS.size))
FORMATS: dict[str, tuple[bytes, Ns]] = {
    "clock, microseconds": (lines(*(clock(s, 6) for s in STAMPS)), floored(1000)),
    "clock and milliseconds": (
        lines("at;pace", *(f"{clock(STAMPS[i + 1], 3)};{ms(NS[i], 4)}" for i in EVERY)),
        rounded(NS, 100),
    ),
    "clock across midnight": (lines("when", *(clock(s, 6, start_s=86_398.0) for s in STAMPS)), floored(1000)),
    "clock without fraction beside durations": (
        lines("at;pace", *(f"{clock(STAMPS[i + 1], 0)};{ms(NS[i], 4)}" for i in EVERY)),
        rounded(NS, 100),
    ),
    "clock with decimal comma": (
        lines("wann;dauer", *(f"{clock(STAMPS[i + 1], 3, ',')};{ms(NS[i], 3, ',')}" for i in EVERY)),
        rounded(NS, 1000),
    ),
    "dates": (lines("moment,ms", *(f"{moment(STAMPS[i + 1])},{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "dates alone, zone": (lines("moment", *(moment(s, 6, " ", "+01:00") for s in STAMPS)), floored(1000)),
    "dates alone, Z": (lines(*(moment(s, 6, "T", "Z") for s in STAMPS)), floored(1000)),
    "pipes with blanks": (lines("| no | lasted |", *(f"| {i} | {ms(NS[i])} |" for i in EVERY)), rounded(NS, 1000)),
    "aligned blanks": (
        lines(f"{'picture':>8}{'lasted':>14}", *(f"{i + 1:>8}{ms(NS[i], 4):>14}" for i in EVERY)),
        rounded(NS, 100),
    ),
    "title lines": (
        lines("Harbour Lights", "recorded on the bench, 3 March", "", "no,lasted", *(f"{i},{ms(NS[i])}" for i in EVERY)),
        rounded(NS, 1000),
    ),
    "row of units": (lines("no,lasted", "[-],[ms]", *(f"{i},{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "footer of statistics": (
        lines("no,lasted", *(f"{i},{ms(NS[i])}" for i in EVERY), "", "frames: 500", "mean,11.25", "least,4.1", "most,1400.0"),
        rounded(NS, 1000),
    ),
    "footer without commas": (lines("lasted", *(ms(v) for v in NS), "total 9.4 s", "--- end ---"), rounded(NS, 1000)),
    "ticks of nanoseconds": (lines(*(str(s + 1_700_000_000_000_000_000) for s in STAMPS)), NS),
    "ticks of microseconds": (lines("t", *(str(s // 1000 + 81_000_000) for s in STAMPS)), floored(1000)),
    "quoted cells": (lines('"no","lasted"', *(f'"{i}","{ms(NS[i])}"' for i in EVERY)), rounded(NS, 1000)),
    "quoted text with the delimiter": (
        lines("no,who,lasted", *(f'{i},"Night Ferry, deck",{ms(NS[i])}' for i in EVERY)),
        rounded(NS, 1000),
    ),
    "mark of UTF-8": (b"\xef\xbb\xbf" + lines("lasted", *(ms(v) for v in NS)), rounded(NS, 1000)),
    "UTF-16 big-endian": (lines("lasted", *(ms(v) for v in NS)).decode().encode("utf-16-be"), rounded(NS, 1000)),
    "counter from 4711": (lines("no\tlasted", *(f"{i + 4711}\t{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "counter by two": (lines("no\tlasted", *(f"{2 * i}\t{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "key: value above": (
        lines(
            "game: Ironvale", "cap: none", "vsync: off", "started: 2026-03-01 10:00:00", "", *(f"{i};{ms(NS[i])}" for i in EVERY)
        ),
        rounded(NS, 1000),
    ),
    "key=value above": (lines("game=Ironvale", "cap=60", *(f"{i};{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "table above": (
        lines(
            "name,value",
            "cpu,8",
            "memory,32",
            "clock,4800",
            "no,at,lasted",
            *(f"{i},{STAMPS[i + 1] / 1e9:.6f},{ms(NS[i])}" for i in EVERY),
        ),
        rounded(NS, 1000),
    ),
    "header again after a restart": (
        lines(
            "no,lasted",
            *(f"{i},{ms(NS[i])}" for i in range(200)),
            "no,lasted",
            *(f"{i - 200},{ms(NS[i])}" for i in range(200, 500)),
        ),
        rounded(NS, 1000),
    ),
    "comments in the middle": (
        lines(
            "# log",
            "no,lasted",
            *(f"{i},{ms(NS[i])}" for i in range(90)),
            "# marker: bridge",
            *(f"{i},{ms(NS[i])}" for i in range(90, 500)),
        ),
        rounded(NS, 1000),
    ),
    "comment early": (
        lines("no,lasted", *(f"{i},{ms(NS[i])}" for i in range(9)), "# marker", *(f"{i},{ms(NS[i])}" for i in range(9, 500))),
        rounded(NS, 1000),
    ),
    "half line at the end": (lines("no,lasted", *(f"{i},{ms(NS[i])}" for i in EVERY), "500,", last=False), rounded(NS, 1000)),
    "half number at the end": (lines("no,lasted", *(f"{i},{ms(NS[i])}" for i in EVERY), "500,1", last=False), rounded(NS, 1000)),
    "blank lines between": (lines("no,lasted", *(f"{i},{ms(NS[i])}\n" for i in EVERY)), rounded(NS, 1000)),
    "comma after the last cell": (lines("no,lasted,", *(f"{i},{ms(NS[i])}," for i in EVERY)), rounded(NS, 1000)),
    "elapsed before each frame": (
        lines("at,lasted", *(f"{STAMPS[i] / 1e9:.6f},{ms(NS[i])}" for i in EVERY)),
        rounded(NS, 1000),
    ),
    "the same elapsed time twice": (
        lines("at,seconds", *(f"{STAMPS[i] / 1e6:.3f},{STAMPS[i] / 1e9:.6f}" for i in range(501))),
        steps(1000),
    ),
    "rate beside duration": (
        lines("pace,lasted", *(f"{1e9 / NS[i]:.2f},{ms(NS[i], 4)}" for i in EVERY)),
        rounded(NS, 100),
    ),
    "exponents": (lines("s", *(f"{v / 1e9:.8e}" for v in NS)), NS),
    "seconds, comma": (lines("s", *(f"{v // 10**9},{v // 100 % 10**7:07d}" for v in NS)), NS // 100 * 100),
    "microseconds": (lines("lasted", *(str(v // 1000) for v in NS)), NS // 1000 * 1000),
    "nanoseconds": (lines("lasted", *(str(v) for v in NS)), NS),
    "old line ends": (lines("no,lasted", *(f"{i},{ms(NS[i])}" for i in EVERY), end="\r"), rounded(NS, 1000)),
    "an address, a flag, a name": (
        lines(
            "who,address,on,lasted,note",
            *(f"quiet-orbit,0x7ffe3a10,{int(i % 40 > 3)},{ms(NS[i])}," for i in EVERY),
        ),
        rounded(NS, 1000),
    ),
    "some cells missing in a column nobody needs": (
        lines(
            "at,lasted,warmth", *(f"{STAMPS[i + 1] / 1e9:.6f},{ms(NS[i], 4)},{'NA' if i % 9 == 0 else 61 + i % 3}" for i in EVERY)
        ),
        rounded(NS, 100),
    ),
    "sensors beside": (
        lines(
            "at_ms,lasted,watts,load,clock",
            *(
                f"{STAMPS[i + 1] / 1e6:.3f},{ms(NS[i], 4)},{180 + 9 * np.sin(i / 50):.1f},{60 + i % 37},{4800 + 25 * (i % 3)}"
                for i in EVERY
            ),
        ),
        rounded(NS, 100),
    ),
    "blanks after commas": (lines("no, lasted", *(f"{i}, {ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
    "plus signs": (lines("no;lasted", *(f"{i};+{ms(NS[i])}" for i in EVERY)), rounded(NS, 1000)),
}


@pytest.mark.parametrize("form", FORMATS)
def test_made_up_format_is_read_without_a_flag(form: str) -> None:
    data, expected = FORMATS[form]
    reading = read_log(data, name=form)
    assert not reading.sampled
    assert not reading.bad_rows
    assert np.array_equal(reading.frames.ns, expected), (reading.account, reading.frames.ns[:5], expected[:5])
