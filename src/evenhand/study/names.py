"""Names of setups, titles and scenes: they are words in commands and parts of paths, so they must be safe as both."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

LONGEST: Final = 80

_FORBIDDEN: Final = '/\\:*?"<>|{}'
#: File names that Windows gives to devices, with any extension.
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE)
_NO_TEXT: Final = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def name_fault(name: str) -> str | None:
    """What makes `name` unfit as part of a path, in words; None if nothing does."""
    if not name:
        return "a name cannot be empty"
    if len(name) > LONGEST:
        return f"a name has at most {LONGEST} characters"
    if bad := [c for c in name if c in _FORBIDDEN]:
        return f"a name cannot hold {bad[0]} (nor any of {' '.join(_FORBIDDEN)})"
    if any(unicodedata.category(c) in _NO_TEXT for c in name):
        return "a name cannot hold invisible characters"
    if name != name.strip() or name[0] == "." or name[-1] == ".":
        return "a name does not begin or end with a space or a dot"
    return "Windows keeps that name for a device" if _DEVICE.fullmatch(name) else None


@lru_cache(maxsize=20_000)
def safe_name(text: str) -> str:
    """`text` made a name: what cannot stay becomes a hyphen; never empty. A name comes back as it is."""
    whole = unicodedata.normalize("NFC", text)
    kept = "".join("-" if c in _FORBIDDEN or unicodedata.category(c) in _NO_TEXT else c for c in whole)
    cut = kept.strip(" .\u00a0")[:LONGEST].rstrip(" .\u00a0")
    named = f"{cut}-" if _DEVICE.fullmatch(cut) else cut
    return named if name_fault(named) is None else "unnamed"


@lru_cache(maxsize=20_000)
def folded(name: str) -> str:
    """The form in which two names that a person or Windows takes for the same are equal."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
