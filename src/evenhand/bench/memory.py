"""Memory arithmetic: what a rate and a latency in cycles come to."""

from __future__ import annotations

import re

_BYTES_A_TRANSFER = 8  # a channel is 64 bits wide, two halves of 32 counted as one


def first_word_ns(cycles: float, mts: float) -> float:
    """Time to the first word, nanoseconds: `cycles` (CAS latency) at `mts` million transfers a second, two in each clock."""
    return 2000.0 * cycles / mts


def bandwidth_gb_s(mts: float, channels: int = 1) -> float:
    """Peak bandwidth in 10⁹ bytes a second."""
    return mts * _BYTES_A_TRANSFER * channels / 1000.0


def cas_cycles(timings: str) -> float | None:
    """The first figure of timings as people write them: `CL30`, `30-38-38-96`, `C30`; None where there is none."""
    found = re.search(r"\bCL?\s*(\d{1,3})\b", timings, re.IGNORECASE) or re.search(r"(?<![\w.])(\d{1,3})(?![\w.])", timings)
    return float(found.group(1)) if found else None
