"""Patterns such as `{title}/{setup}-v{visit}-r{run}`: which part of a log's path says what.

A pattern may leave room: `{title} {setup}` over names with several spaces can be cut in more than one place. All paths are
then cut so that the fewest different titles and setups result (`matched`), which is how a person reads such a folder.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from pathlib import PurePath
from typing import Final

from evenhand.errors import Problem, UsageError
from evenhand.study.names import folded
from evenhand.wording import nearest, plain

#: File name ends that a pattern need not mention, singly or with one of `PACKED` behind.
LOG_ENDS: Final = ("csv", "txt", "tsv", "log", "dat", "tab", "psv", "ssv", "asc", "prn", "out", "data")
PACKED: Final = ("gz", "zst", "xz")

_ENDING: Final = re.compile(rf"(\.({'|'.join(LOG_ENDS)}))?(\.({'|'.join(PACKED)}))?$", re.IGNORECASE)
_FIELD: Final = re.compile(r"\{([^{}/]*)\}|\*")
#: Words that people write before the number of a visit or of a run.
VISIT_WORDS: Final = "visit|vis|v|session|day|boot|block|round|besuch|tag|visite|jour"
RUN_WORDS: Final = (
    "run|r|repeat|rep|take|pass|try|attempt|recording|rec|loop|iteration|iter|no|nr|#|lauf|durchlauf|durchgang|essai"
)
_LABELS: Final = {
    "visit": re.compile(rf"(?:^|[^A-Za-z])(?:{VISIT_WORDS})[ _.-]?$", re.IGNORECASE),
    "run": re.compile(rf"(?:^|[^A-Za-z])(?:{RUN_WORDS})[ _.-]?$|\($", re.IGNORECASE),
}
_NUMBER: Final = re.compile(r"(?<!\d)\d{1,6}(?!\d)")
_YEAR: Final = r"(?:19|20)\d\d"
_MONTH: Final = r"(?:0[1-9]|1[0-2])"
_DAY: Final = r"(?:0[1-9]|[12]\d|3[01])"
_DAYS: Final = "|".join(
    [f"{_YEAR}{join}{_MONTH}{join}{_DAY}" for join in ("", "-", "_", r"\.", "/", " ")]
    + [f"{_DAY}{join}{_MONTH}{join}{_YEAR}" for join in ("-", "_", r"\.")]
)
#: A day, written year first or day first; parts of it may be folders.
DATE: Final = re.compile(rf"(?<!\d)(?:{_DAYS})(?!\d)")
_MOST_CUTS: Final = 60  # ways to cut one path; more say nothing more
_LONGEST: Final = 1000  # characters of a path or pattern


class Field(Enum):
    """What a stretch of a path says."""

    TITLE = "title"
    SCENE = "scene"
    SETUP = "setup"
    VISIT = "visit"
    RUN = "run"
    DATE = "date"
    ANY = "*"

    @property
    def is_text(self) -> bool:
        """Whether it stands for words rather than a number or day."""
        return self in (Field.TITLE, Field.SCENE, Field.SETUP, Field.ANY)

    def __str__(self) -> str:
        return "*" if self is Field.ANY else "{" + self.value + "}"


Piece = Field | str
Cut = tuple[tuple[Field, str], ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """Literal texts and fields in turn; `/` separates folders."""

    pieces: tuple[Piece, ...]

    def __str__(self) -> str:
        return "".join(str(piece) for piece in self.pieces)

    @property
    def fields(self) -> tuple[Field, ...]:
        """Its fields in order."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Field))

    def labelled(self, field: Field, as_if: Field | None = None) -> bool:
        """Whether a word or bracket before the field (a visit or run) says that it is one, or that it is `as_if`."""
        label = _LABELS[(as_if or field).value]
        pairs = zip(self.pieces, self.pieces[1:], strict=False)
        return any(after is field and isinstance(before, str) and label.search(before) is not None for before, after in pairs)

    @property
    def depth(self) -> int:
        """Folders and file name together."""
        return 1 + sum(piece.count("/") for piece in self.pieces if isinstance(piece, str))


def parse_pattern(text: str) -> Pattern:
    """The pattern that a person wrote; Windows separators are taken too. Raises UsageError naming the fields there are."""
    whole = unicodedata.normalize("NFC", text).replace("\\", "/").removeprefix("./")
    pieces: list[Piece] = []
    end = 0
    for found in _FIELD.finditer(whole):
        pieces.append(whole[end : found.start()])
        pieces.append(_field(found.group(1), text))
        end = found.end()
    pieces.append(whole[end:])
    pattern = Pattern(tuple(piece for piece in pieces if piece != ""))
    named = Counter(field for field in pattern.fields if field is not Field.ANY)
    twice = [str(field) for field, count in named.items() if count > 1 and field is not Field.SETUP]
    if not named or twice or len(whole) > _LONGEST or any("{" in p or "}" in p for p in pattern.pieces if isinstance(p, str)):
        what = f"{twice[0]} stands twice in the pattern" if twice else "the pattern names nothing that a path could say"
        raise UsageError(Problem("pattern-unclear", what, plain(text), _EXAMPLE))
    return pattern


_EXAMPLE: Final = "write for example '{title}/{setup}-v{visit}-r{run}'; * stands for anything"


def _field(name: str | None, whole: str) -> Field:
    if name is None:
        return Field.ANY
    known = [field.value for field in Field if field is not Field.ANY]
    if name in known:
        return Field(name)
    near = nearest(name, known)
    do = f"did you mean {{{near}}}?" if near else f"it may hold {', '.join('{' + field + '}' for field in known)} and *"
    raise UsageError(Problem("pattern-unclear", f"the pattern has no field {{{plain(name, 40)}}}", plain(whole), do))


def bare(path: PurePath) -> str:
    """The path as patterns see it: composed characters, forward slashes, without the file's ending."""
    return _ENDING.sub("", unicodedata.normalize("NFC", "/".join(path.parts)), count=1)


def matched(pattern: Pattern, paths: Sequence[PurePath]) -> Mapping[PurePath, Cut]:
    """The paths that the pattern fits, each cut into its fields.

    Where no path is as short as the pattern, the pattern is held to the ends of paths.
    """
    texts = {path: bare(path) for path in paths}
    cuts = {path: _cuts(pattern, text) or _cuts(pattern, _whole(path)) for path, text in texts.items()}
    if not any(cuts.values()):
        ends = {path: "/".join(text.split("/")[-pattern.depth :]) for path, text in texts.items()}
        cuts = {path: _cuts(pattern, text) for path, text in ends.items()}
    return _agreed({path: ways for path, ways in cuts.items() if ways})


def _whole(path: PurePath) -> str:
    return unicodedata.normalize("NFC", "/".join(path.parts))


@lru_cache(maxsize=100_000)
def _cuts(pattern: Pattern, text: str) -> tuple[Cut, ...]:
    """All ways in which the pattern fits the whole text, or none; a bracketed run at the end may be missing (the first)."""
    if len(text) > _LONGEST:
        return ()
    first, last = (form.fullmatch(text) for form in _forms(pattern))
    if first is None or last is None:
        return _without_bracket(pattern, text)
    if first.groups() == last.groups():
        return (tuple(zip(pattern.fields, first.groups(), strict=True)),)
    return tuple(way for way, _ in zip(_ways(pattern.pieces, text, 0), range(_MOST_CUTS), strict=False))


@lru_cache(maxsize=2_000)
def _forms(pattern: Pattern) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """The pattern with its texts as short, and as long, as they can be: where both agree there is only one way."""
    forms = []
    for few in ("?", ""):
        text = {True: f"([^/]*{few})", False: f"([^/]+{few})"}
        day, number = f"({DATE.pattern})", f"({_NUMBER.pattern})"
        parts = [
            re.escape(piece)
            if isinstance(piece, str)
            else text[piece is Field.ANY]
            if piece.is_text
            else day
            if piece is Field.DATE
            else number
            for piece in pattern.pieces
        ]
        forms.append(re.compile("".join(parts), re.IGNORECASE))
    return forms[0], forms[1]


def _without_bracket(pattern: Pattern, text: str) -> tuple[Cut, ...]:
    """A bracketed run at the end may be missing: the first copy of a file has no number."""
    if len(pattern.pieces) < 4 or pattern.pieces[-2] is not Field.RUN or pattern.pieces[-1] != ")":
        return ()
    before = str(pattern.pieces[-3]).rstrip("(").rstrip()
    shorter = Pattern((*pattern.pieces[:-3], *([before] if before else [])))
    return tuple((*way, (Field.RUN, "1")) for way in _cuts(shorter, text))


def _ways(pieces: Sequence[Piece], text: str, at: int) -> Iterator[Cut]:
    if not pieces:
        if at == len(text):
            yield ()
        return
    piece, rest = pieces[0], pieces[1:]
    if isinstance(piece, str):
        if text[at : at + len(piece)].casefold() == piece.casefold():
            yield from _ways(rest, text, at + len(piece))
        return
    for end in _ends(piece, rest, text, at):
        for way in _ways(rest, text, end):
            yield ((piece, text[at:end]), *way)


def _ends(field: Field, rest: Sequence[Piece], text: str, at: int) -> Iterator[int]:
    """Where a field that begins at `at` may end."""
    if not field.is_text:
        found = (DATE if field is Field.DATE else _NUMBER).match(text, at)
        if found:
            yield found.end()
        return
    stop = text.find("/", at)
    stop = len(text) if stop < 0 else stop
    least = at if field is Field.ANY else at + 1
    if not rest:
        if stop == len(text) and stop >= least:
            yield stop
        return
    following = rest[0]
    for end in range(least, stop + 1):
        if isinstance(following, str):
            if text[end : end + len(following)].casefold() == following.casefold():
                yield end
        elif following.is_text or _ends_here(following, text, end):
            yield end


def _ends_here(field: Field, text: str, at: int) -> bool:
    return (DATE if field is Field.DATE else _NUMBER).match(text, at) is not None


def _agreed(cuts: Mapping[PurePath, Sequence[Cut]]) -> Mapping[PurePath, Cut]:
    """One way for each path, chosen together: the fewest different values over all paths."""
    if all(len(ways) == 1 for ways in cuts.values()):
        return {path: ways[0] for path, ways in cuts.items()}
    support: Counter[tuple[int, str]] = Counter()
    for ways in cuts.values():
        support.update({value for way in ways for value in _values(way)})
    chosen: dict[PurePath, Cut] = {}
    for _ in range(4):
        before = chosen
        chosen = {path: min(ways, key=lambda way: _rarity(way, support)) for path, ways in cuts.items()}
        if chosen == before:
            break
        support = Counter(value for way in chosen.values() for value in _values(way))
    return chosen


def _rarity(way: Cut, support: Counter[tuple[int, str]]) -> float:
    """The share of this path in the number of different values, if all paths with a value share it."""
    return sum(1 / support[value] if support[value] else 2.0 for value in _values(way))


def _values(way: Cut) -> tuple[tuple[int, str], ...]:
    return tuple((i, folded(text)) for i, (field, text) in enumerate(way) if field.is_text and field is not Field.ANY)
