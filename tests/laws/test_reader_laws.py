"""Laws of the reader: what was written in any form comes back as it was written, and no bytes bring anything but one LogError."""

from __future__ import annotations

import gzip
import lzma
import time
import tracemalloc
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
import zstandard
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from evenhand.errors import LogError
from evenhand.examples.measured import measured_files
from evenhand.frames.model import Reading
from evenhand.frames.read import UnclearLog, read_log, recipe_of

Ns = NDArray[np.int64]

LAW = settings(
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
NS_IN = {"s": 10**9, "ms": 10**6, "us": 10**3, "ns": 1}
#: Decimals in which each unit is written: at most down to the nanosecond.
PLACES = {"s": (5, 6, 9), "ms": (2, 3, 6), "us": (0, 1, 3), "ns": (0,)}
ROLES = ("elapsed", "duration", "rate", "counter+duration", "elapsed+duration", "elapsed+rate")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16-le", "utf-16-be", "utf-16-le with mark", "utf-16-be with mark", "latin-1")
MARKS = {"utf-16-le with mark": b"\xff\xfe", "utf-16-be with mark": b"\xfe\xff"}


@dataclass(frozen=True)
class Form:
    """How frames are written."""

    role: str
    unit: str
    places: int
    delimiter: str
    decimal: str
    encoding: str
    preamble: tuple[str, ...]
    header: bool
    footer: tuple[str, ...]
    end: str
    last_end: bool


@st.composite
def forms(draw: st.DrawFn) -> Form:
    unit = draw(st.sampled_from(sorted(NS_IN)))
    delimiter, decimal = draw(
        st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), (" ", "."), (" ", ",")])
    )
    preamble: tuple[str, ...] = draw(
        st.sampled_from([(), ("Harbour Lights",), ("# game: Ironvale", "# cap: none"), ("title=Quiet Orbit", "", "run=3")])
    )
    return Form(
        role=draw(st.sampled_from(ROLES)),
        unit=unit,
        places=draw(st.sampled_from(PLACES[unit])),
        delimiter=delimiter,
        decimal=decimal,
        encoding=draw(st.sampled_from(ENCODINGS)),
        preamble=preamble,
        header=draw(st.booleans()),
        footer=draw(st.sampled_from([(), ("end of recording",), ("", "# frames: 120")])),
        end=draw(st.sampled_from(["\n", "\r\n"])),
        last_end=draw(st.booleans()),
    )


@st.composite
def frames(draw: st.DrawFn) -> Ns:
    """Frames of a game at 20 to 800 a second: course, noise, stalls, and perhaps a load at the start."""
    rng = np.random.default_rng(draw(st.integers(0, 2**16)))
    count = draw(st.sampled_from([40, 120, 300]))
    ms = draw(st.floats(1.25, 50.0)) * (1 + 0.3 * np.sin(np.arange(count) / 40)) * np.exp(0.1 * rng.standard_normal(count))
    ms[rng.integers(0, count, 3)] *= draw(st.sampled_from([1.0, 4.0, 15.0]))
    ms[0] += draw(st.sampled_from([0.0, 900.0, 4000.0]))
    return np.rint(ms * 1e6).astype(np.int64)


def shown(ns: int, unit: str, places: int) -> tuple[str, int]:
    """(whole nanoseconds in a unit to some decimals, the nanoseconds that this says)."""
    quantum = NS_IN[unit] // 10**places
    ticks = max((ns + quantum // 2) // quantum, 1)
    whole, rest = divmod(ticks, 10**places)
    return f"{whole}.{rest:0{places}d}" if places else str(whole), ticks * quantum


def written(ns: Ns, form: Form) -> tuple[bytes, Ns, NDArray[np.float64]]:
    """(the log, durations as it says them, nanoseconds by which the finest column may miss each)."""
    each = [shown(int(v), form.unit, form.places) for v in ns]
    stamps = [shown(int(v) + 10**9, form.unit, form.places) for v in np.concatenate(([0], np.cumsum(ns)))]
    rates = [f"{1e9 / int(v):.6f}" for v in ns]
    at = [text for text, _ in stamps]
    lasted = [text for text, _ in each]
    quantum = NS_IN[form.unit] // 10**form.places
    columns = {
        "elapsed": [at],
        "duration": [lasted],
        "rate": [rates],
        "counter+duration": [[str(i) for i in range(len(ns))], lasted],
        "elapsed+duration": [at[1:], lasted],
        "elapsed+rate": [at[1:], rates],
    }[form.role]
    expected = np.array([value for _, value in each])
    slack = np.zeros(expected.size)
    if form.role == "elapsed":
        expected = np.diff([value for _, value in stamps])
        slack = np.zeros(expected.size)
    elif "rate" in form.role:
        rate_slack = 1e9 * 1e-6 / (1e9 / ns) ** 2 + 1
        slack = np.minimum(rate_slack, quantum + 1) if form.role == "elapsed+rate" else rate_slack
        expected, slack[0] = ns, rate_slack[0]
    names = [["zeit", "dauer"], ["maß", "größe"]][form.encoding == "latin-1"][: len(columns)]
    rows = [form.delimiter.join(cells) for cells in zip(*columns, strict=True)]
    rows = [row.replace(".", form.decimal) for row in rows]
    lines = [*form.preamble, *([form.delimiter.join(names)] if form.header else []), *rows, *form.footer]
    text = form.end.join(lines) + (form.end if form.last_end else "")
    encoding = form.encoding.removesuffix(" with mark")
    return MARKS.get(form.encoding, b"") + text.encode(encoding), expected, slack


def is_same(reading: Reading, expected: Ns, slack: NDArray[np.float64]) -> bool:
    got = reading.frames.ns
    return got.size == expected.size and bool((np.abs(got - expected) <= slack).all()) and not reading.bad_rows


def settled(data: bytes, expected: Ns, slack: NDArray[np.float64]) -> Reading:
    """The reading, without a word where nothing is in doubt, else with the flags of the candidate that is the truth."""
    try:
        return read_log(data, name="log")
    except UnclearLog as unclear:
        for guess in unclear.candidates:
            reading = read_log(
                data,
                name="log",
                column=guess.column,
                role=guess.role,
                unit=guess.unit,
                delimiter=guess.delimiter,
                decimal=guess.decimal,
            )
            if is_same(reading, expected, slack):
                return reading
        raise


@settings(LAW, max_examples=200)
@given(frames(), forms())
def test_what_was_written_comes_back(ns: Ns, form: Form) -> None:
    data, expected, slack = written(ns, form)
    if form.role == "elapsed" and (expected <= 0).any():
        return
    reading = settled(data, expected, slack)
    assert is_same(reading, expected, slack), (reading.account, reading.frames.ns[:4], expected[:4])
    again = read_log(data, name="log", recipe=recipe_of(reading))
    assert is_same(again, expected, slack)
    assert recipe_of(again) == recipe_of(reading)


@settings(LAW, max_examples=150)
@given(frames(), forms())
def test_columns_that_prove_each_other_need_no_word(ns: Ns, form: Form) -> None:
    """Durations beside elapsed time leave nothing open, in whatever form they are written."""
    proven = replace(form, role="elapsed+duration" if form.role.endswith("duration") else "elapsed+rate")
    data, expected, slack = written(ns, proven)
    assert is_same(read_log(data, name="log"), expected, slack)


@settings(LAW, max_examples=100)
@given(frames(), forms())
def test_the_length_of_the_scene_settles_units(ns: Ns, form: Form) -> None:
    data, expected, slack = written(ns, form)
    if form.decimal == "," or (form.role == "elapsed" and (expected <= 0).any()):
        return
    seconds = float(ns.sum() / 1e9)
    try:
        assert is_same(read_log(data, name="log", seconds_hint=seconds), expected, slack)
    except UnclearLog as unclear:  # near 32 frames a second, milliseconds and frames a second last equally long
        assert len(unclear.candidates) > 1
        assert all(abs(guess.seconds / seconds - 1) < 0.3 for guess in unclear.candidates)


def nothing_but_a_log_error(data: bytes) -> None:
    try:
        assert len(read_log(data, name="log").frames) > 0
    except LogError as error:
        assert error.problems


@settings(LAW, max_examples=200)
@given(st.binary(max_size=300))
def test_any_bytes_give_frames_or_one_error(data: bytes) -> None:
    nothing_but_a_log_error(data)


PIECES = (
    "1",
    "0",
    "-",
    "+",
    ".",
    ",",
    ";",
    "\t",
    " ",
    "\n",
    "\r",
    '"',
    "#",
    ":",
    "e9",
    "nan",
    "16.7",
    "12:00:01",
    "2026-01-01T00:00:0",
    "é",
    "\x00",
    "|",
    "x",
    "/",
    "9999999999999999999999",
)


@settings(LAW, max_examples=200)
@given(st.lists(st.sampled_from(PIECES), max_size=60), st.integers(1, 30), st.sampled_from(["utf-8", "utf-16-le", "latin-1"]))
def test_any_text_like_a_log_gives_frames_or_one_error(pieces: list[str], times: int, encoding: str) -> None:
    """Repeated, so that rows of one form arise."""
    nothing_but_a_log_error(("".join(pieces) * times).encode(encoding))


@cache
def real_logs() -> tuple[bytes, ...]:
    """One log of each of the five formats."""
    logs = [(path, data) for name in ("campaign", "quiet") for path, data in measured_files(name) if "-v" in path.name]
    return tuple({path.parts[0]: data for path, data in logs if len(path.parts) == 2}.values())


@settings(LAW, max_examples=150)
@given(st.data())
def test_a_mutated_real_log_gives_frames_or_one_error(data: st.DataObject) -> None:
    log = bytearray(data.draw(st.sampled_from(real_logs())))
    for _ in range(data.draw(st.integers(1, 3))):
        kind = data.draw(st.sampled_from(["delete", "swap", "replace", "double"]))
        a, b = sorted((data.draw(st.integers(0, len(log))), data.draw(st.integers(0, len(log)))))
        b = b if kind == "swap" else min(b, a + 400)
        if kind == "delete":
            del log[a:b]
        elif kind == "swap":
            log = log[b:] + log[a:b] + log[:a]
        elif kind == "double":
            log[a:a] = log[a:b]
        else:
            log[a:b] = data.draw(st.binary(max_size=20))
    nothing_but_a_log_error(bytes(log))


@settings(LAW, max_examples=100)
@given(st.data())
def test_a_log_cut_off_anywhere_keeps_its_whole_rows(data: st.DataObject) -> None:
    """What a recorder that was stopped leaves: all frames but the last, or the plain error that too few are there."""
    log = data.draw(st.sampled_from(real_logs()))
    whole = read_log(log, name="log").frames.ns
    at = data.draw(st.integers(0, len(log)))
    try:
        cut = read_log(log[:at], name="log").frames.ns
    except LogError:
        assert at < 4000
        return
    assert abs(cut.size - at / len(log) * whole.size) < 0.15 * whole.size + 5
    assert np.array_equal(cut[:-1], whole[: cut.size - 1])


def packed_zeros(packing: str) -> bytes:
    """A gigabyte of zeros, packed."""
    block = bytes(2**22)
    if packing == "gz":
        member = gzip.compress(block, 1)
        return member * 256
    if packing == "xz":
        return lzma.compress(block, preset=0) * 256
    return zstandard.ZstdCompressor(level=1).compress(block) * 256


@pytest.mark.parametrize("packing", ["gz", "xz", "zst"])
def test_a_bomb_is_refused_in_little_memory(packing: str) -> None:
    bomb = packed_zeros(packing)
    tracemalloc.start()
    try:
        with pytest.raises(LogError, match="log-too-large"):
            read_log(bomb, name="bomb")
        assert tracemalloc.get_traced_memory()[1] < 600e6
    finally:
        tracemalloc.stop()


def test_a_huge_line_is_refused_in_little_memory() -> None:
    line = b"1" * 100_000_000
    tracemalloc.start()
    try:
        with pytest.raises(LogError, match="log-not-text"):
            read_log(line, name="line")
        assert tracemalloc.get_traced_memory()[1] < 250e6
    finally:
        tracemalloc.stop()


HOSTILE = {
    "lines of thirty thousand cells": (b"1," * 30_000 + b"1\n") * 200,
    "lines of thirty thousand blanks": (b"1 " * 30_000 + b"1\n") * 200,
    "nothing but quotes": (b'1","' * 10_000 + b"\n") * 200,
    "nothing but line ends": b"\n" * 20_000_000 + b"1\n2\n3\n",
    "more rows than a run can have": b"7\n" * 6_000_000,
    "numbers without end": b"1e308\n2e308\n9e999\n" * 1000,
    "every row bad in turn": (b"7.25\n" * 300 + b"x\n" * 40) * 2000,
}


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_text_is_refused_in_time_and_memory(what: str) -> None:
    tracemalloc.start()
    began = time.perf_counter()
    try:
        nothing_but_a_log_error(HOSTILE[what])
        assert time.perf_counter() - began < 10
        assert tracemalloc.get_traced_memory()[1] < 200e6
    finally:
        tracemalloc.stop()
