"""Patterns that a folder's paths might follow, made from what their skeletons have in common."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice, product, takewhile
from typing import Final

from evenhand.study.names import folded
from evenhand.study.pattern import RUN_WORDS, VISIT_WORDS, Field, Pattern, Piece
from evenhand.study.skeleton import Bare, Item, Mark, Skeleton, skeleton

MOST: Final = 400
_JOINS: Final = (" - ", "__", "_", "-", ", ", ",", "+", "~", ".", " ")
_EDGE: Final = re.compile(r"[ _.,+~()\[\]#-]")
#: A constant word and the strong join behind it: it may be a title, the beginning of every name, or say nothing.
_NAMED_HEAD: Final = re.compile(r"([ _.,-]*)(.*[^\W\d_].*?)([ _.,-]+)")
_LEADING: Final = re.compile(r"[ _.,+~()\[\]#-]*")
_TRAILING: Final = re.compile(r"[ _.,+~()\[\]#-]*$")
_LABELLED: Final = re.compile(rf"(?:(?:^|[ _.,+~()\[\]#-]+)(?:{VISIT_WORDS}|{RUN_WORDS}))?[ _.,+~()\[\]#-]*$", re.IGNORECASE)
_UNWRITABLE: Final = re.compile(r"[*{}\\]")

#: A stretch of text that varies or might be a name: None until it gets a role. Literals are strings.
Slot = None
Shape = tuple[Piece | Mark | None, ...]


def candidates(texts: Sequence[str]) -> tuple[Pattern, ...]:
    """Different patterns that fit most of the paths (as `pattern.bare` gives them), simplest first."""
    found: dict[Pattern, None] = {}
    for group in _groups(texts):
        for shape in islice(_shapes(group), 60):
            for pattern in _with_roles(shape):
                found.setdefault(pattern)
                if len(found) >= MOST:
                    return tuple(found)
    return tuple(found)


def _groups(texts: Sequence[str]) -> Iterator[tuple[Skeleton, ...]]:
    """For each way of reading numbers: the largest groups of paths with the same shape."""
    seen = set()
    plain = False  # all say themselves which visit and run they are
    for marked, bare in product((True, False), (Bare.LAST, Bare.NONE, Bare.LAST_TWO, Bare.FIRST)):
        if plain and not marked:
            return
        skeletons = [skeleton(text, bare, marked) for text in texts]
        shapes = Counter(s.shape for s in skeletons)
        for shape, count in shapes.most_common(2):
            group = tuple(s for s in skeletons if s.shape == shape)
            if group not in seen and count * 4 >= len(texts):
                seen.add(group)
                yield group
            plain = plain or (count == len(texts) and {Field.VISIT, Field.RUN} <= set(shape))


def _shapes(group: Sequence[Skeleton]) -> Iterator[Shape]:
    """Ways to see the texts between marks as literals and slots."""
    columns = list(zip(*(s.texts for s in group), strict=True))
    parts: list[list[tuple[Piece | None, ...]]] = []
    for column in columns:
        folders = list(zip(*(text.split("/") for text in column), strict=True))
        for i, values in enumerate(folders):
            if i:
                parts.append([("/",)])
            parts.append(list(_readings(values, i == len(folders) - 1 and column is not columns[-1])))
        parts.append([])
    marks = [item for item in group[0].items if not isinstance(item, str)]
    filled: list[list[tuple[Item | None, ...]]] = []
    for part in parts:
        if part:
            filled.append(list(part))
        elif marks:
            filled.append([(marks.pop(0),)])
    for chosen in sorted(product(*filled), key=lambda c: sum(len(p) for p in c)):
        yield _joined(piece for part in chosen for piece in part)


def _joined(pieces: Iterable[Item | None]) -> Shape:
    """Neighbouring literals as one."""
    out: list[Piece | Mark | None] = []
    for piece in pieces:
        if isinstance(piece, str) and out and isinstance(out[-1], str):
            out[-1] += piece
        elif piece != "":
            out.append(piece)
    return tuple(out)


def _readings(values: Sequence[str], before_number: bool) -> Iterator[tuple[Piece | None, ...]]:
    """Ways to read one stretch between marks and folder borders: as a literal, as one slot, as two or three.

    before_number : a number follows directly, so that a word at the end ("run") is its label.
    """
    head, tail = _common(values, before_number)
    cores = [value[len(head) : len(value) - len(tail)] for value in values]
    if len({folded(value) for value in values}) == 1:
        yield (values[0],)
        if cores[0]:
            yield (head, Slot, tail)
        return
    if not all(cores):
        return
    if named := _NAMED_HEAD.fullmatch(head):
        yield (named.group(1), Slot, tail)
        yield (named.group(1), Slot, named.group(3), Slot, tail)
    yield (head, Slot, tail)
    for join in _JOINS:
        least = min(core.count(join) for core in cores)
        if least and not any(join != other and join in other and all(other in core for core in cores) for other in _JOINS):
            yield (head, Slot, join, Slot, tail)
            if least > 1:
                yield (head, Slot, join, Slot, join, Slot, tail)


def _common(values: Sequence[str], before_number: bool) -> tuple[str, str]:
    """What all values begin and end with, up to a separator; the label of a number belongs to the end."""
    end = _LABELLED if before_number else _TRAILING
    start = _LEADING.match(values[0])
    if len(set(values)) == 1:
        rest = values[0][start.end() :] if start else values[0]
        label = end.search(rest)
        return values[0][: len(values[0]) - len(rest)], label.group() if label else ""
    head = _shared(values)
    while head and _EDGE.match(head[-1]) is None:
        head = head[:-1]
    tail = _shared([value[len(head) :][::-1] for value in values])[::-1]
    label = end.search(tail)
    return head, label.group() if label else ""


def _shared(values: Sequence[str]) -> str:
    """The letters with which all begin."""
    same = takewhile(lambda letters: len(set(letters)) == 1, zip(*values, strict=False))
    return "".join(letters[0] for letters in same)


def _with_roles(shape: Shape) -> Iterator[Pattern]:
    """The shape with its slots called title, scene, setup or anything, and its bare numbers called visit and run."""
    slots = [i for i, piece in enumerate(shape) if piece is None]
    for roles in _ROLES.get(len(slots), ()):
        named = dict(zip(slots, roles, strict=True))
        for numbers in _numbers(shape):
            pieces = [named.get(i, piece) for i, piece in enumerate(shape)]
            left = list(numbers)
            final = [left.pop(0) if isinstance(piece, Mark) else piece for piece in pieces]
            yield Pattern(tuple(_writable(piece) for piece in final if piece is not None and not isinstance(piece, Mark)))


def _writable(piece: Piece) -> Piece:
    """Literals that hold signs of the pattern language can only be written as anything."""
    return Field.ANY if isinstance(piece, str) and _UNWRITABLE.search(piece) else piece


def _numbers(shape: Shape) -> tuple[tuple[Field, ...], ...]:
    """What the numbers without a word may be, given which are named."""
    count = sum(isinstance(piece, Mark) for piece in shape)
    visit, run = Field.VISIT in shape or Field.DATE in shape, Field.RUN in shape
    if count == 0:
        return ((),)
    if count == 1:
        return (
            ((Field.VISIT,),)
            if run and not visit
            else ((Field.ANY,),)
            if run
            else ((Field.RUN,),)
            if visit
            else ((Field.RUN,), (Field.VISIT,))
        )
    return ((Field.VISIT, Field.RUN),) if not visit and not run else ()


_T, _C, _S = Field.TITLE, Field.SCENE, Field.SETUP
_ROLES: Final[dict[int, tuple[tuple[Field, ...], ...]]] = {
    0: ((),),
    1: ((_S,), (_T,)),
    2: ((_T, _S), (_S, _T), (_S, _S)),
    3: (
        (_T, _C, _S),
        (_T, _S, _C),
        (_S, _T, _C),
        (_T, _S, _S),
        (_S, _S, _T),
        (_S, _T, _S),
    ),
    4: ((_T, _C, _S, _S), (_S, _S, _T, _C), (_T, _S, _S, _S), (_S, _S, _S, _T)),
}
