"""Time to read a log of 10 MB into frames, as a multiple of polars reading the same columns in the same run.

Bound: within 2 times. Every format is read ours, theirs, ours, theirs ...; medians are compared, so that other work on the
machine weighs on both alike.
"""

from __future__ import annotations

import io
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl

from evenhand.frames.read import read_log

REPEATS = 9
BYTES = 10_000_000


@dataclass(frozen=True)
class Log:
    """A log and what polars is told to read of it: separator, decimal comma, columns by name."""

    name: str
    data: bytes
    separator: str
    comma: bool
    columns: tuple[str, ...]


def scene(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Frames of an invented scene in milliseconds, and the seconds at which each ends."""
    rng = np.random.default_rng(7)
    ms = 6 * (1 + 0.3 * np.sin(np.arange(count) / 700)) * rng.gamma(60, 1 / 60, count)
    return ms, np.cumsum(ms) / 1e3


def grown(
    name: str, header: str, row: str, separator: str, columns: tuple[str, ...], comma: bool = False, end: str = "\n"
) -> Log:
    """A log of the wanted size: `row` is a format of n, t (seconds), x (ms) and r (frames a second)."""
    ms, ends = scene(BYTES // len(row.format(n=9, t=9.0, x=9.0, r=99.0)) + 1)
    lines = [row.format(n=n, t=t, x=x, r=1e3 / x) for n, (t, x) in enumerate(zip(ends.tolist(), ms.tolist(), strict=True))]
    text = end.join([header, *(line.replace(".", ",") if comma else line for line in lines), ""])
    return Log(name, text.encode()[:BYTES].rpartition(b"\n")[0] + b"\n", separator, comma, columns)


def logs() -> list[Log]:
    wide = "a.exe,0x1F,{n},{t:.6f},{x:.4f}," + ",".join(["{n}.5"] * 12)
    names = ",".join(f"c{i}" for i in range(17))
    return [
        grown("elapsed and rate, tab", "t\tr", "{t:.6f}\t{r:.3f}", "\t", ("t", "r")),
        grown("counter, elapsed, duration, comma", "n,t,x", "{n},{t:.6f},{x:.4f}", ",", ("t", "x")),
        grown("duration, decimal comma, CRLF", "n;x", "{n};{x:.4f}", ";", ("x",), comma=True, end="\r\n"),
        grown("duration alone", "x", "{x:.4f}", ",", ("x",)),
        grown("17 columns", names, wide, ",", ("c3", "c4")),
    ]


def median_ms(work: Callable[[], object], other: Callable[[], object]) -> tuple[float, float]:
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(REPEATS):
        for kept, one in zip(times, (work, other), strict=True):
            begin = time.perf_counter()
            one()
            kept.append((time.perf_counter() - begin) * 1e3)
    return statistics.median(times[0]), statistics.median(times[1])


def main() -> None:
    for log in logs():
        ours, theirs = median_ms(
            lambda log=log: read_log(log.data, name=log.name),
            lambda log=log: pl.read_csv(
                io.BytesIO(log.data), separator=log.separator, decimal_comma=log.comma, columns=list(log.columns)
            ),
        )
        print(f"{log.name}: {len(log.data) / 1e6:.1f} MB in {ours:.0f} ms, polars {theirs:.0f} ms, ratio {ours / theirs:.2f}")


if __name__ == "__main__":
    main()
