"""Cells of a line: how it is split, and what kind each cell is by its look alone."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache
from typing import Final


class Kind(StrEnum):
    """What a cell looks like."""

    NUMBER = "n"
    CLOCK = "t"  # hh:mm:ss, with or without a fraction
    MOMENT = "m"  # ISO 8601 date with time
    TEXT = "x"
    EMPTY = "e"  # nothing, or a word for "no number"


# A whole number with zeros before it is none: "12,045" split at the comma must not look like 12 and 45.
_NUMBERS: Final = {
    ".": re.compile(r"[+-]?(?:(?!0\d+$)\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"),
    ",": re.compile(r"[+-]?(?:(?!0\d+$)\d+,?\d*|,\d+)(?:[eE][+-]?\d{1,3})?"),
}
_CLOCK: Final = re.compile(r"(?:[01]?\d|2[0-3]):[0-5]\d:[0-5]\d(?:[.,]\d+)?")
_MOMENT: Final = re.compile(
    r"\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])[T ](?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d(?:[.,]\d+)?(?:Z|[+-]\d{2}:?\d{2})?"
)
NONE: Final = frozenset({"", "-", "--", "na", "n/a", "nan", "null", "none", "inf", "-inf"})
LONGEST_NUMBER: Final = 40

TIMES: Final = frozenset({Kind.NUMBER, Kind.CLOCK, Kind.MOMENT})


def kind(cell: str, decimal: str) -> Kind:
    """Kind of a cell with blanks round it taken off."""
    if len(cell) > LONGEST_NUMBER or not cell.isascii():
        return Kind.TEXT
    return _kind(cell, decimal)


@lru_cache(maxsize=8192)
def _kind(cell: str, decimal: str) -> Kind:
    """Remembered, since each cell is looked at under several layouts."""
    if _NUMBERS[decimal].fullmatch(cell):
        return Kind.NUMBER
    if cell.lower() in NONE:
        return Kind.EMPTY
    if _CLOCK.fullmatch(cell):
        return Kind.CLOCK
    return Kind.MOMENT if _MOMENT.fullmatch(cell) else Kind.TEXT


def split(line: str, delimiter: str) -> list[str]:
    """Cells of a line, blanks and quotes round them taken off; "" = the line is one cell, " " = runs of blanks part cells."""
    if not delimiter:
        cells = [line]
    elif delimiter == " ":
        cells = line.split()
    elif '"' in line:
        cells = next(csv.reader([line], delimiter=delimiter), [""])
    else:
        cells = line.split(delimiter)
    return [cell.strip().strip('"') for cell in cells]


def fits(cells: Sequence[Kind], usual: Sequence[Kind]) -> bool:
    """Whether a line has the usual cells; an empty cell fits any kind, and text may stand in a text column only."""
    return len(cells) == len(usual) and all(
        have is want or have is Kind.EMPTY or want is Kind.TEXT for have, want in zip(cells, usual, strict=True)
    )


def is_comment(line: str) -> bool:
    """Whether a line is a remark and no row."""
    return line.lstrip().startswith(("#", "//", "%"))


def decimals(cell: str, decimal: str) -> int:
    """Digits after the decimal mark, an exponent counted in; the quantum of the number is ten to minus that.

    For a time of day or a date: the digits of its fraction of a second.
    """
    if ":" in cell:
        return len(re.split(r"[.,]", cell)[1].rstrip("Z").partition("+")[0].partition("-")[0]) if re.search(r"[.,]", cell) else 0
    mantissa, _, exponent = cell.lower().partition("e")
    digits = len(mantissa.partition(decimal)[2])
    return digits - int(exponent) if exponent.lstrip("+-").isdigit() else digits
