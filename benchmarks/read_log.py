"""Time of reading a frame log beside a general reader's on the same columns: python benchmarks/read_log.py

Both read the same bytes in the same process, in turn, and the median of several counts. The goal: a log of 10 MB within twice the
general reader's time. One ordinary log is timed too; most of its time is finding out how it is laid out.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from statistics import median

import numpy as np
import polars as pl

from evenhand.frames.read import read_log

TIMES = 9
MEGABYTES = 10


def frame_times_ms(count: int) -> list[float]:
    """Frames about 7 ms long, with a course, noise and stalls."""
    rng = np.random.default_rng(1)
    ms = 7.0 * (1 + 0.3 * np.sin(np.arange(count) / 400)) * np.exp(0.1 * rng.standard_normal(count))
    ms[rng.integers(0, count, count // 2000 + 1)] *= 8
    return [float(v) for v in ms]


def narrow(count: int) -> bytes:
    """Number, elapsed seconds, milliseconds; plain ASCII."""
    ms = frame_times_ms(count)
    at = np.cumsum(ms) / 1000
    return ("no,at,lasted\n" + "".join(f"{i},{s:.6f},{v:.4f}\n" for i, (s, v) in enumerate(zip(at, ms, strict=True)))).encode()


def wide(count: int) -> bytes:
    """Twenty columns, a title that is not ASCII in each row, Windows line ends."""
    ms = frame_times_ms(count)
    at = np.cumsum(ms) / 1000
    rest = ",".join(f"{50 + k}.{k}" for k in range(16))
    rows = (f"Möwe & Glut,{i},{s:.6f},{v:.4f},{rest}\r\n" for i, (s, v) in enumerate(zip(at, ms, strict=True)))
    return (",".join(f"c{k}" for k in range(20)) + "\r\n" + "".join(rows)).encode()


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def compared(name: str, data: bytes, columns: Sequence[int]) -> float:
    """Print both times and give their ratio."""
    ours, theirs = [], []
    for _ in range(TIMES):
        theirs.append(seconds(lambda: pl.read_csv(data, columns=list(columns)).to_numpy()))
        ours.append(seconds(lambda: read_log(data, name=name)))
    own, general = median(ours) * 1e3, median(theirs) * 1e3
    print(f"{name}: {len(data) / 1e6:.1f} MB, {own:.1f} ms; general reader {general:.1f} ms; {own / general:.2f} ×")
    return own / general


def grown(make: Callable[[int], bytes]) -> bytes:
    """A log of about `MEGABYTES`."""
    return make(round(MEGABYTES * 1e6 / (len(make(2000)) / 2000)))


def main() -> None:
    compared("narrow", grown(narrow), (1, 2))
    compared("wide", grown(wide), (2, 3))
    ordinary = narrow(round(400_000 / (len(narrow(2000)) / 2000)))
    each = [seconds(lambda: read_log(ordinary, name="ordinary")) for _ in range(TIMES * 3)]
    print(f"ordinary log: {len(ordinary) / 1e3:.0f} kB, {median(each) * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
