"""Words that several rooms need: lists, plurals, neutral text. No verdict is worded here (writeup/sentences.py does)."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from difflib import get_close_matches


def listed(words: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def counted(count: int, one: str, many: str | None = None) -> str:
    """`1 run`, `3 runs`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word most like `word`, or None."""
    found = get_close_matches(word, known, n=1, cutoff=0.6)
    return found[0] if found else None


def quoted(path: object) -> str:
    """A path as it is typed in a command, in quotation marks where it holds a blank."""
    text = str(path)
    return f'"{text}"' if " " in text else text


def plain(text: str, most: int = 200) -> str:
    """Text from outside made harmless for a line of output: control and bidirectional characters shown as ·, shortened."""
    safe = "".join("·" if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"} else c for c in text)
    return safe if len(safe) <= most else safe[: most - 1] + "…"
