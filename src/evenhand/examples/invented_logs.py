"""Three made-up text formats, as three different recorders might leave them. None is the format of any program."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from evenhand.frames.model import Floats


def _decimal_comma(ms: Floats) -> bytes:
    """Semicolons, decimal comma, a preamble: a counter, milliseconds since the first present, and the frame's own."""
    preamble = "# written by: bench clock\n# unit: millisecond\nstep;reached;lasted\n"
    pairs = zip(np.cumsum(ms).tolist(), ms.tolist(), strict=True)
    rows = (f"{i};{reached:.4f};{lasted:.4f}" for i, (reached, lasted) in enumerate(pairs, start=1))
    return (preamble + "\n".join(rows).replace(".", ",") + "\n").encode()


def _tabbed(ms: Floats) -> bytes:
    """Tabs, Windows line ends: seconds since the first present, and the frame's own milliseconds."""
    at = np.cumsum(ms) / 1000.0
    rows = (f"{second:.6f}\t{value:.3f}" for second, value in zip(at.tolist(), ms.tolist(), strict=True))
    return ("at_s\tgap_ms\r\n" + "\r\n".join(rows) + "\r\n").encode()


def _ticking(ms: Floats) -> bytes:
    """UTF-16 with byte order mark, bars: a counter and whole microseconds of a clock that started long before."""
    ticks = 81_250_000_000 + np.rint(np.concatenate(([0.0], np.cumsum(ms))) * 1000.0).astype(np.int64)
    rows = (f"{i}|{tick}" for i, tick in enumerate(ticks.tolist()))
    return ("\ufeffpicture|clock_us\n" + "\n".join(rows) + "\n").encode("utf-16-le")


#: file suffix and writer, taken in turn by the titles.
FORMATS: Final[tuple[tuple[str, Callable[[Floats], bytes]], ...]] = (
    (".csv", _decimal_comma),
    (".tsv", _tabbed),
    (".log", _ticking),
)
