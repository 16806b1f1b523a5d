"""Numbers of a table that may group thousands or not, with a decimal point or comma: what they are shows in all of them together.

`15,342` alone may be fifteen thousand or fifteen; beside `96,1` the comma is the decimal mark.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_BLANKS: Final = re.compile(r"(?<=\d)[ \u00a0\u202f'’](?=\d{3}(?!\d))")
_PLAIN: Final = re.compile(r"\d+|\d*\.\d+")
_GROUPS: Final = re.compile(r"\d{1,3}(?:[.,]\d{3})+")
OTHER: Final = {".": ",", ",": "."}


def decimal_mark(texts: Iterable[str]) -> str | None:
    """The decimal mark that numbers show between them: "." or ","; None where none of them shows it, or they contradict."""
    shown = {mark for text in texts if (mark := _mark(_BLANKS.sub("", text)))}
    return shown.pop() if len(shown) == 1 else None


def figure(text: str, decimal: str | None) -> float | None:
    """The number, by the decimal mark of its table; None where it is none, or could be two.

    Without a mark from elsewhere a point is taken for the decimal mark, a single comma before three digits for neither.
    """
    bare = _BLANKS.sub("", text)
    mark = decimal or _mark(bare) or ("." if "," not in bare else None)
    if mark is None:
        return None
    whole, _, fraction = bare.partition(mark)
    if OTHER[mark] in fraction or (OTHER[mark] in whole and not _GROUPS.fullmatch(whole)):
        return None
    plain = whole.replace(OTHER[mark], "") + (f".{fraction}" if fraction else "")
    return float(plain) if _PLAIN.fullmatch(plain) else None


def _mark(bare: str) -> str | None:
    """The decimal mark that one number shows by itself: the last of two kinds, the one that does not group."""
    marks = [c for c in bare if c in OTHER]
    if len(set(marks)) == 2:
        return marks[-1]
    if len(marks) > 1:
        return OTHER[marks[0]]
    if not marks:
        return None
    whole, _, fraction = bare.partition(marks[0])
    return None if len(fraction) == 3 and 1 <= len(whole) <= 3 and whole.lstrip("0") else marks[0]
