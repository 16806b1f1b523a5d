"""The only file that converts: between durations and rates, logarithms and per cent, numbers and printed text.

Printed numbers obey two laws: decimals follow the standard error (at most two significant digits of it; GUM, JCGM 100:2008,
7.2.6), and rounding never crosses a line that the value did not cross.
"""

from __future__ import annotations

import math

MINUS = "−"
NO_BREAK = "\u00a0"


def rate_of_ms(ms: float) -> float:
    """Frames per second of a frame of `ms` milliseconds."""
    return 1000.0 / ms


def percent_of_log(log_ratio: float) -> float:
    """Change in per cent that a natural log-ratio stands for: log(1.03) -> 3.0."""
    return math.expm1(log_ratio) * 100.0


def log_of_percent(percent: float) -> float:
    """Natural log-ratio of a change in per cent."""
    return math.log1p(percent / 100.0)


def decimals_for(se: float, most: int = 3) -> int:
    """Decimals at which a value with standard error `se` is printed: the place of the error's first significant digit, or the
    second where the first is a 1; between 0 and `most`.
    """
    if not math.isfinite(se) or se <= 0:
        return 0
    place = -math.floor(math.log10(se))
    if se * 10**place < 2:
        place += 1
    return min(max(place, 0), most)


def rounded(value: float, decimals: int, lines: tuple[float, ...] = (), most: int = 6) -> float:
    """`value` rounded so that it lies on the same side of every line as before; decimals are added until it does."""
    for places in range(decimals, most + 1):
        shown = round(value, places)
        if all((shown < line) == (value < line) and (shown > line) == (value > line) for line in lines):
            return shown
    return value


def number(value: float, decimals: int = 0, lines: tuple[float, ...] = (), sign: bool = False) -> str:
    """A printed number with a true minus sign; "cannot tell" marks (–) for NaN, ∞ for infinity."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else f"{MINUS}∞"
    shown = rounded(value, decimals, lines)
    places = decimals
    while places < 6 and round(shown, places) != shown:
        places += 1
    text = f"{abs(shown):.{places}f}"
    if shown < 0 and float(text) != 0:
        return MINUS + text
    return f"+{text}" if sign and float(text) != 0 else text


def percent(value: float, decimals: int = 1, lines: tuple[float, ...] = (), sign: bool = False) -> str:
    """A number of per cent, with the unit."""
    return f"{number(value, decimals, lines, sign)}{NO_BREAK}%"


def duration_words(seconds: float) -> str:
    """Seconds in words for people: "12 s", "3 min 20 s", "1 h 5 min"."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"
