"""How wide a text will be: advance widths read from the fonts that are drawn with.

A chart without a browser must know how much room its labels take; Vega guesses, which cuts long labels off.
"""

from __future__ import annotations

import struct
from functools import cache
from typing import Final

from evenhand.charts.theme import FONT_FOLDER

SANS_FILE: Final = "IBMPlexSansCondensed_400Regular.ttf"
SANS_BOLD_FILE: Final = "IBMPlexSansCondensed_600SemiBold.ttf"
SERIF_FILE: Final = "SourceSerif4_400Regular.ttf"
SERIF_BOLD_FILE: Final = "SourceSerif4_600SemiBold.ttf"


def width_of(text: str, size: float, file: str = SANS_FILE) -> float:
    """Pixels that `text` takes at `size` pixels. Letters that the font lacks count as 0.6 em below U+2E80 and 1 em above
    (East Asian letters are square); an estimate there.
    """
    advances = _advances(file)
    return size * sum(advances.get(ord(c), 1.0 if ord(c) >= 0x2E80 else 0.6) for c in text)


def lacking(text: str, file: str = SANS_FILE) -> set[str]:
    """Letters of `text` that the font does not hold. One of them makes the drawing library set the whole text in another font."""
    return {c for c in text if ord(c) not in _advances(file)}


def wrapped(text: str, size: float, room: float, lines: int = 2, file: str = SANS_FILE) -> tuple[str, ...]:
    """`text` in at most `lines` lines no wider than `room` pixels, broken at blanks; what does not fit ends in …"""
    found: list[str] = []
    rest = text.split()
    while rest and len(found) < lines:
        line = rest.pop(0)
        while rest and width_of(f"{line} {rest[0]}", size, file) <= room:
            line = f"{line} {rest.pop(0)}"
        found.append(line)
    if rest:
        found[-1] = f"{found[-1]} {' '.join(rest)}"
    return tuple(shortened(line, size, room, file) for line in found) or ("",)


def shortened(text: str, size: float, room: float, file: str = SANS_FILE) -> str:
    """`text`, its end replaced by … where it is wider than `room` pixels."""
    if width_of(text, size, file) <= room:
        return text
    while text and width_of(text + "…", size, file) > room:
        text = text[:-1]
    return text.rstrip() + "…"


@cache
def _advances(file: str) -> dict[int, float]:
    """Advance width in em of every character of a TrueType font with a format 4 character map (OpenType 1.9, cmap, hmtx)."""
    data = (FONT_FOLDER / file).read_bytes()
    (count,) = struct.unpack(">H", data[4:6])
    tables = {}
    for i in range(count):
        tag, _, offset, length = struct.unpack(">4sIII", data[12 + 16 * i : 28 + 16 * i])
        tables[tag] = data[offset : offset + length]
    (em,) = struct.unpack(">H", tables[b"head"][18:20])
    (metrics,) = struct.unpack(">H", tables[b"hhea"][34:36])
    widths = struct.unpack(f">{2 * metrics}H", tables[b"hmtx"][: 4 * metrics])[::2]
    return {code: widths[min(glyph, metrics - 1)] / em for code, glyph in _glyphs(tables[b"cmap"]).items()}


def _glyphs(cmap: bytes) -> dict[int, int]:
    """Character code -> glyph number, from the first format 4 table of a `cmap`."""
    (tables,) = struct.unpack(">H", cmap[2:4])
    starts = [struct.unpack(">I", cmap[8 + 8 * i : 12 + 8 * i])[0] for i in range(tables)]
    start = next(s for s in starts if struct.unpack(">H", cmap[s : s + 2])[0] == 4)
    table = cmap[start:]
    half = struct.unpack(">H", table[6:8])[0] // 2

    def column(at: int, kind: str = "H") -> tuple[int, ...]:
        return struct.unpack(f">{half}{kind}", table[at : at + 2 * half])

    ends, firsts = column(14), column(16 + 2 * half)
    deltas, offsets = column(16 + 4 * half, "h"), column(16 + 6 * half)
    found: dict[int, int] = {}
    for i in range(half):
        for code in range(firsts[i], min(ends[i], 0xFFFE) + 1):
            if offsets[i] == 0:
                glyph = (code + deltas[i]) & 0xFFFF
            else:
                at = 16 + 6 * half + 2 * i + offsets[i] + 2 * (code - firsts[i])
                (raw,) = struct.unpack(">H", table[at : at + 2])
                glyph = (raw + deltas[i]) & 0xFFFF if raw else 0
            if glyph:
                found[code] = glyph
    return found
