"""Hints from the words alone: what people call setups, and what they call titles. Each is weak; together they settle ties."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import prod
from typing import Final

_QUANTITY: Final = re.compile(
    r"[a-z]{0,4}\d+(?:[.,]\d+)?[ ]?"
    r"(?:w|v|mv|a|hz|khz|mhz|ghz|mt/?s|mts|gb|mb|kb|c|t|p|e|cores?|threads?|fps|rpm|nm|cl|x|%|°c)?",
    re.IGNORECASE,
)
_LETTER: Final = re.compile(r"[A-Za-z]\d?")
_SETUP_WORDS: Final = frozenset(
    """
    on off auto stock default defaults baseline base reference ref control eco quiet silent balanced performance turbo boost
    fast slow low high max min mid lean rich cool hot warm cold tuned tweaked manual limited unlimited old new before after with
    without single dual quad all none one two half full setup config profile mode driver bios firmware kernel memory ram core
    cores thread threads smt limit power undervolt overclock oc uv enable enabled disable disabled air water large small
    """.split()  # noqa: SIM905 - a list of words reads better as words
)
_SPLIT: Final = re.compile(r"[-_ ,+/~]+")
_PARTS: Final = re.compile(r"([^\W\d_]*)(.*)")


def setup_likeness(names: Iterable[str]) -> float:
    """From -1 (these are titles) to 1 (these are setups), the mean over names."""
    marks: list[float] = [_one(name) for name in names]
    return sum(marks) / len(marks) if marks else 0.0


def _one(name: str) -> float:
    words: list[str] = [word for word in _SPLIT.split(name) if word]
    if not words:
        return 0.0
    if _LETTER.fullmatch(name) or all(_QUANTITY.fullmatch(word) for word in words):
        return 1.0
    known = sum(word.casefold() in _SETUP_WORDS or _QUANTITY.fullmatch(word) is not None for word in words) / len(words)
    if known >= 0.5:
        return known
    long = sum(len(word) >= 5 and word.isalpha() for word in words)
    capital = sum(word[0].isupper() for word in words)
    title_like = 0.2 * long + 0.2 * capital + 0.15 * (len(words) - 1)
    return -min(1.0, title_like) * (1 - known)


def crossed_words(names: Sequence[str]) -> tuple[tuple[str, ...], ...] | None:
    """The words of each name, if the names are all combinations of two or more words that vary; else None.

    Words that all names share are left out. `("6400-65W", "5200-65W", ...)` -> `(("6400", "65W"), ("5200", "65W"), ...)`.
    """
    if len(names) < 4:
        return None
    words = [tuple(word for word in _SPLIT.split(name) if word) for name in names]
    if len({len(w) for w in words}) != 1:
        return None
    varying = [column for column in zip(*words, strict=True) if len(set(column)) > 1]
    whole = tuple(zip(*varying, strict=True))
    full = prod(len(set(column)) for column in varying) == len(names) == len(set(whole))
    return whole if len(varying) >= 2 and full else None


def shared_word(levels: Sequence[str]) -> tuple[str, tuple[str, ...]]:
    """The letters that all levels begin with and what is left: `mem6400, mem5200` -> `mem`, `(6400, 5200)`; else "" and all."""
    parts = [_PARTS.fullmatch(level) for level in levels]
    heads = {part.group(1) for part in parts if part}
    rest = tuple(part.group(2) for part in parts if part)
    if len(heads) == 1 and "" not in heads and all(rest) and len(rest) == len(levels):
        return heads.pop(), rest
    return "", tuple(levels)
