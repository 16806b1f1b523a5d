"""How a log is laid out: delimiter and decimal mark, what stands above and below the rows, what kind each column is.

Every delimiter is tried with both decimal marks on a bounded sample; the layout whose commonest row covers most of it is kept.
Layouts that explain the sample equally well are all kept, and the roles of their columns decide (`roles`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from evenhand.frames.cells import TIMES, Kind, decimals, fits, is_comment, kind, split
from evenhand.frames.model import Layout
from evenhand.frames.text import count_byte

DELIMITERS: Final = ("\t", ";", ",", "|", " ", "")
MARKS: Final = (".", ",")
HEAD: Final = 120  # lines of the sample at the top,
HEAD_CHARACTERS: Final = 8192  # fewer where they are long,
LEAST_HEAD: Final = 40  # but never fewer than this
TAIL: Final = 40  # and at the end
MOST_COLUMNS: Final = 1000  # more cells are no table of frames; blanks in a row count as one delimiter only later
MOST_BLANK: Final = 10_000  # lines looked at, blank ones counted
FOOTER: Final = 30
COVERS: Final = 0.8  # of the sampled rows
_PARTING: Final = frozenset("\t;,|")  # a text that holds one of these was perhaps not split where it should be
ONE_KIND: Final = 0.8  # of a column's filled cells; else the column is text


@dataclass(frozen=True, slots=True)
class Found:
    """A layout that fits. begin, end : bytes of the text that are rows. kinds, decimals : per column.

    half_line : the last line was cut off by the end of the recording and is left out. regular : nothing but rows was seen between
    begin and end.
    """

    layout: Layout
    begin: int
    end: int
    kinds: tuple[Kind, ...]
    decimals: tuple[int, ...]
    half_line: bool
    regular: bool
    rank: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    text: str
    begin: int
    end: int  # after its line end


def layouts(text: bytes, encoding: str, delimiter: str | None = None, decimal: str | None = None) -> tuple[Found, ...]:
    """Every layout that explains the text best, one where there is no doubt; none where nothing repeats."""
    head, tail = _head(text), _tail(text)
    tried: list[Found] = []
    present = [d for d in DELIMITERS if not d or any(d in line.text.strip() for line in head)]
    for mark in (decimal,) if decimal else MARKS:
        for separator in (delimiter,) if delimiter is not None else present:
            if separator == mark:
                continue
            found = _try(text, encoding, separator, mark, head, tail)
            if found is not None and not any(_same(found, other) for other in tried):
                tried.append(found)
    best = max((f.rank for f in tried), default=())
    return tuple(_numbered(text, f) for f in tried if f.rank == best)


def _numbered(text: bytes, found: Found) -> Found:
    """With the line numbers of its first and last row; counting lines of a large log is worth doing once."""
    first = count_byte(text, b"\n", 0, found.begin) + 1
    between = count_byte(text, b"\n", found.begin, found.end)
    last = first - 1 + between + (0 if text[found.end - 1 : found.end] == b"\n" else 1)
    return replace(found, layout=replace(found.layout, first_row=first, last_row=last))


def _same(one: Found, other: Found) -> bool:
    """Whether two layouts read every cell alike: no decimal mark in any number, the same delimiter."""
    return one.layout.delimiter == other.layout.delimiter and not any(one.decimals) and not any(other.decimals)


def _try(text: bytes, encoding: str, delimiter: str, mark: str, head: Sequence[_Line], tail: Sequence[_Line]) -> Found | None:
    rows = [_kinds(line, delimiter, mark) for line in head]
    last = [_kinds(line, delimiter, mark) for line in tail] if head and tail and head[-1].end < tail[0].begin else []
    usual = _usual([*rows, *last], lone=not delimiter)
    if usual is None:
        return None
    first = _first(rows, usual)
    if first is None:
        return None
    footer, half = _below(text, tail, usual, delimiter, mark, head[first].begin)
    begin, end = head[first].begin, tail[len(tail) - footer].begin if footer else len(text)
    inner = [(line, row) for line, row in zip(head[first:], rows[first:], strict=True) if line.begin < end]
    said = [row for line, row in inner if not is_comment(line.text)]
    good = [line for line, row in inner if not is_comment(line.text) and fits(row, usual)]
    if len(good) < COVERS * len(said) or not good:
        return None
    shown = [split(line.text, delimiter) for line in good]
    names, preamble = _above(head[:first], delimiter, mark, len(usual))
    below = () if half else tuple(line.text for line in tail[len(tail) - footer :] if line.text.strip())
    layout = Layout(encoding, delimiter, mark, preamble, names, len(usual), 0, 0, below)
    texts = [c for c, k in enumerate(usual) if k is Kind.TEXT]
    rank = (
        round(len(good) / len(head), 1),
        round(len(good) / len(said), 2),
        float(not texts),
        -float(sum(any(set(row[c]) & _PARTING for row in shown) for c in texts)),
    )
    return Found(layout, begin, end, usual, _places(shown, mark), half, len(good) == len(inner), rank)


def _places(rows: Sequence[Sequence[str]], mark: str) -> tuple[int, ...]:
    """The most decimals that numbers or times have, of each column."""
    return tuple(
        max((decimals(cell, mark) for cell in cells if kind(cell, mark) in TIMES), default=0) for cells in zip(*rows, strict=True)
    )


def _kinds(line: _Line, delimiter: str, mark: str) -> list[Kind]:
    if delimiter and line.text.count(delimiter) > MOST_COLUMNS:
        return []
    return [kind(cell, mark) for cell in split(line.text, delimiter)]


def _usual(rows: Sequence[Sequence[Kind]], lone: bool) -> tuple[Kind, ...] | None:
    """The commonest row: the commonest number of cells of rows that hold a time or number, each column's commonest kind."""
    counts = Counter(len(row) for row in rows if any(k in TIMES for k in row))
    counts = Counter({width: n for width, n in counts.items() if (width == 1) == lone})
    if not counts:
        return None
    width = max(counts, key=lambda w: (counts[w], w))
    own = [row for row in rows if len(row) == width and any(k in TIMES for k in row)]
    return tuple(_column_kind([row[c] for row in own]) for c in range(width))


def _column_kind(cells: Sequence[Kind]) -> Kind:
    filled = [k for k in cells if k is not Kind.EMPTY]
    if not filled:
        return Kind.EMPTY
    common, count = Counter(filled).most_common(1)[0]
    return common if count >= ONE_KIND * len(filled) else Kind.TEXT


def _first(rows: Sequence[Sequence[Kind]], usual: tuple[Kind, ...]) -> int | None:
    """The first row: it fits, and so do most of the next."""
    good = [fits(list(row), usual) and any(k in TIMES for k in row) for row in rows]
    for i, fit in enumerate(good):
        after = good[i : i + 8]
        if fit and sum(after) >= 0.6 * len(after):
            return i
    return None


def _below(
    text: bytes, tail: Sequence[_Line], usual: tuple[Kind, ...], delimiter: str, mark: str, floor: int
) -> tuple[int, bool]:
    """(lines below the rows, whether that is one line cut off by the end of the recording)."""
    count = 0
    for line in reversed(tail):
        if line.begin < floor or count >= FOOTER or not _is_footer(line.text, usual, delimiter, mark):
            break
        count += 1
    half = count <= 1 and bool(tail) and not text.endswith(b"\n") and _cut_off(tail, usual, delimiter, mark)
    return (1, True) if half else (count, False)


def _is_footer(line: str, usual: tuple[Kind, ...], delimiter: str, mark: str) -> bool:
    """Blank, other cells than a row, no number where rows have theirs, or a word where rows begin with a number.

    Two or more cells as rows begin with them are a bad row, not a footer.
    """
    cells = [kind(cell, mark) for cell in split(line, delimiter)[: len(usual) + 1]]
    if not line.strip() or len(cells) != len(usual):
        return not (1 < len(cells) < len(usual) and all(have is want for have, want in zip(cells, usual, strict=False)))
    numeric = [have for have, want in zip(cells, usual, strict=True) if want in TIMES]
    return not any(k in TIMES for k in numeric) or (cells[0] is Kind.TEXT and usual[0] in TIMES)


def _cut_off(tail: Sequence[_Line], usual: tuple[Kind, ...], delimiter: str, mark: str) -> bool:
    """Whether the last line is half a row: cells are missing, or its last number is shorter than all others are."""
    last = split(tail[-1].text, delimiter)
    if not fits([kind(cell, mark) for cell in last], usual):
        return len(last) <= len(usual)
    if usual[-1] not in TIMES:
        return False
    rows = [split(line.text, delimiter) for line in tail[:-1]]
    before = [row[-1] for row in rows if len(row) == len(usual) and kind(row[-1], mark) is usual[-1]]
    if not last[-1] and len(before) >= COVERS * len(rows):
        return True
    places = {decimals(cell, mark) for cell in before}
    if len(places) != 1:
        return False
    most = places.pop()
    return decimals(last[-1], mark) < most if most else len(last[-1]) < min(map(len, before))


def _above(above: Sequence[_Line], delimiter: str, mark: str, width: int) -> tuple[tuple[str, ...] | None, tuple[str, ...]]:
    """(names of the columns, the other lines that are not blank).

    Names are the first of the lines right above the rows that have as many cells, all of them words; units may stand below them.
    """
    lines = [line.text for line in above if line.text.strip()]
    names = None
    for line in reversed(lines):
        cells = split(line, delimiter)
        if len(cells) != width or any(kind(cell, mark) in TIMES for cell in cells) or not any(cells) or is_comment(line):
            break
        names = tuple(cells)
    return names, tuple(line for line in lines if tuple(split(line, delimiter)) != names)


def _head(text: bytes) -> list[_Line]:
    """The first lines that are not blank."""
    found: list[_Line] = []
    at, lines = 0, 0
    while at < len(text) and len(found) < HEAD and lines < MOST_BLANK and (at < HEAD_CHARACTERS or len(found) < LEAST_HEAD):
        lines += 1
        end = text.find(b"\n", at)
        end = len(text) if end < 0 else end
        line = text[at:end].decode().rstrip("\r")
        if line.strip():
            found.append(_Line(line, at, end + 1))
        at = end + 1
    return found


def _tail(text: bytes) -> list[_Line]:
    """The last lines, blank ones too, in order."""
    found: list[_Line] = []
    end = len(text) - 1 if text.endswith(b"\n") else len(text)
    while end > 0 and len(found) < TAIL:
        begin = text.rfind(b"\n", 0, end) + 1
        found.append(_Line(text[begin:end].decode().rstrip("\r"), begin, end + 1))
        end = begin - 1
    return found[::-1]
