"""What can be seen in one path without knowing the others: days, numbered runs and visits, and the words between them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from typing import Final

from evenhand.study.pattern import DATE, RUN_WORDS, VISIT_WORDS, Field

_MARKED: Final = re.compile(
    rf"(?<![A-Za-z0-9])(?:(?P<visit>(?:{VISIT_WORDS})[ _.-]?)|(?P<run>(?:{RUN_WORDS})[ _.-]?))(?P<n>\d{{1,3}})(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_GLUED: Final = re.compile(r"(?<![A-Za-z0-9])(?P<visit>v)(?P<n>\d{1,3})(?P<run>r)(?P<m>\d{1,3})(?![A-Za-z0-9])", re.IGNORECASE)
_BRACKETED: Final = re.compile(r"(?<=[ _]\()\d{1,3}(?=\)$)|(?<=\()\d{1,3}(?=\)$)")
_BARE: Final = re.compile(r"(?<![^/ _.,()#-])\d{1,3}(?![^/ _.,()-])")
_CLOCK: Final = re.compile(
    r"(?<=[Tt _.-])(?:[01]\d|2[0-3])(?:[-_.:hH][0-5]\d(?:[-_.:mM][0-5]\d)?|[0-5]\d(?:[0-5]\d)?)(?![A-Za-z0-9])"
)


class Bare(Enum):
    """Which numbers that stand alone are taken for the number of a run or visit."""

    NONE = 0
    LAST = 1
    LAST_TWO = 2
    FIRST = 3


class Mark(Enum):
    """A number whose meaning is not written beside it."""

    NUMBER = "number"


Item = Field | Mark | str


@dataclass(frozen=True, slots=True)
class Skeleton:
    """Texts and marks in turn; texts (also empty) stand at both ends and between marks; "/" is inside texts."""

    items: tuple[Item, ...]

    @property
    def shape(self) -> tuple[object, ...]:
        """What two paths of the same kind share: the marks, and how many folders lie between them."""
        return tuple(item.count("/") if isinstance(item, str) else item for item in self.items)

    @property
    def texts(self) -> tuple[str, ...]:
        """The texts alone."""
        return tuple(item for item in self.items if isinstance(item, str))


def skeleton(text: str, bare: Bare, marked: bool = True) -> Skeleton:
    """The skeleton of a path without its ending. marked : whether `run3` and `v2` are taken for what they seem to say."""
    spans: list[tuple[int, int, Field | Mark]] = []
    if day := DATE.search(text):
        spans.append((*day.span(), Field.DATE))
        if clock := _CLOCK.match(text, min(day.end() + 1, len(text))):
            spans.append((*clock.span(), Field.ANY))
    if marked:
        for found in _GLUED.finditer(text):
            spans += [(*found.span("n"), Field.VISIT), (*found.span("m"), Field.RUN)]
        for found in _MARKED.finditer(text):
            _add(spans, found.span("n"), Field.VISIT if found.group("visit") else Field.RUN)
        for found in _BRACKETED.finditer(text):
            _add(spans, found.span(), Field.RUN)
        spans = _one_each(spans)
    alone = [found.span() for found in _BARE.finditer(text) if not _overlaps(spans, found.span())]
    for span in {Bare.NONE: [], Bare.LAST: alone[-1:], Bare.LAST_TWO: alone[-2:], Bare.FIRST: alone[:1]}[bare]:
        spans.append((*span, Mark.NUMBER))
    return _cut(text, sorted(spans, key=lambda span: span[0]))


def labelled_number(name: str) -> bool:
    """Whether a name holds what looks like a numbered run or visit: `lean run1`, `v2r1`."""
    return _GLUED.search(name) is not None or _MARKED.search(name) is not None


def _overlaps(spans: list[tuple[int, int, Field | Mark]], span: tuple[int, int]) -> bool:
    return any(begin < span[1] and span[0] < end for begin, end, _ in spans)


def _add(spans: list[tuple[int, int, Field | Mark]], span: tuple[int, int], kind: Field) -> None:
    if not _overlaps(spans, span):
        spans.append((*span, kind))


def _one_each(spans: list[tuple[int, int, Field | Mark]]) -> list[tuple[int, int, Field | Mark]]:
    """The last visit and the last run only: an earlier one is part of a name ("Round 2")."""
    last = {kind: max(begin for begin, _, k in spans if k is kind) for _, _, kind in spans}
    return [span for span in spans if span[0] == last[span[2]]]


def _cut(text: str, spans: list[tuple[int, int, Field | Mark]]) -> Skeleton:
    items: list[Item] = []
    at = 0
    for begin, end, kind in spans:
        items += [text[at:begin], kind]
        at = end
    return Skeleton((*items, text[at:]))
