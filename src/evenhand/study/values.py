"""Single values of study.toml, checked against the table of keys."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from itertools import pairwise
from typing import Any, Final

from evenhand.study.keys import Key, Kind
from evenhand.study.model import Stated
from evenhand.study.names import name_fault
from evenhand.wording import listed, nearest, plain

_PERCENT: Final = re.compile(r"\s*(\d{1,6}(?:\.\d{1,30})?)\s*%\s*")
_MOST: Final = 200  # entries of a list or table


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a value, and the way out."""

    what: str
    do: str
    slug: str = "study-value"


def checked(key: Key, value: object) -> Any:
    """The value as the model wants it, or a Fault."""
    return _CHECKS[key.kind](key, value)


def shown(value: object) -> str:
    """A value as it would stand in the file, harmless and short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{plain(value, 60)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return "a date" if isinstance(value, date | time | datetime) else plain(str(value), 40)


def percent_text(fraction: float) -> str:
    """`0.03` -> `3 %`, exactly: it reads back as the same number."""
    return f"{Decimal(repr(fraction)).scaleb(2).normalize():f} %"


def _wrong(key: Key, value: object, allowed: str) -> Fault:
    return Fault(f"{key.name} is {shown(value)}; allowed is {allowed}", f"write for example: {key.name} = {key.example}")


def _text(key: Key, value: object) -> Any:
    return unicodedata.normalize("NFC", value) if isinstance(value, str) else _wrong(key, value, key.kind.value)


def _name(key: Key, value: object) -> Any:
    if not isinstance(value, str):
        return _wrong(key, value, key.kind.value)
    name = unicodedata.normalize("NFC", value)
    fault = name_fault(name)
    if fault:
        do = f"change it (the label may be any text), for example: {key.name} = {key.example}"
        return Fault(f"{key.name} is {shown(value)}; {fault}", do, "study-name")
    return name


def _number(key: Key, value: object) -> Any:
    allowed = f"a number {key.allowed}" if key.allowed else "a number"
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e15 or math.isnan(value):
        return _wrong(key, value, allowed)
    return float(value) if key.allowed is None or value in key.allowed else _wrong(key, value, allowed)


def _count(key: Key, value: object) -> Any:
    if isinstance(value, bool) or not isinstance(value, int) or (key.allowed and value not in key.allowed):
        return _wrong(key, value, f"a whole number {key.allowed}")
    return value


def _flag(key: Key, value: object) -> Any:
    return value if isinstance(value, bool) else _wrong(key, value, key.kind.value)


def _choice(key: Key, value: object) -> Any:
    if isinstance(value, str) and value in key.choices:
        return value
    quoted = [f'"{choice}"' for choice in key.choices]
    fault = _wrong(key, value, listed(quoted, "or"))
    near = nearest(value, key.choices) if isinstance(value, str) else None
    return Fault(fault.what, f'did you mean {key.name} = "{near}"?') if near else fault


def _texts(key: Key, value: object) -> Any:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value) or len(value) > _MOST:
        return _wrong(key, value, key.kind.value)
    return tuple(unicodedata.normalize("NFC", item) for item in value)


def _choices(key: Key, value: object) -> Any:
    texts = _texts(key, value)
    if isinstance(texts, Fault):
        return texts
    unknown = [text for text in texts if text not in key.choices]
    if not unknown:
        return texts
    near = nearest(unknown[0], key.choices)
    do = f'did you mean "{near}"?' if near else f"it may hold {listed(key.choices, 'or')}"
    return Fault(f"{key.name} holds {shown(unknown[0])}, which is not known", do)


def _counts(key: Key, value: object) -> Any:
    whole = isinstance(value, list) and all(isinstance(n, int) and not isinstance(n, bool) for n in value) and len(value) <= _MOST
    if not whole or not isinstance(value, list) or (key.allowed and any(n not in key.allowed for n in value)):
        return _wrong(key, value, f"{key.kind.value}, {key.allowed}")
    if any(later <= before for before, later in pairwise(value)):
        return Fault(f"{key.name} is {value}; each must be larger than the one before", f"write {sorted(set(value))}")
    return tuple(value)


def _ratio(key: Key, value: object) -> Any:
    allowed = 'a percentage in quotes, above "0 %" and below "100 %"'
    found = _PERCENT.fullmatch(value) if isinstance(value, str) else None
    fraction = float(Decimal(found.group(1)).scaleb(-2)) if found else 0.0
    if 0 < fraction < 1:
        return fraction
    if isinstance(value, float) and 0 < value < 1:
        return Fault(_wrong(key, value, allowed).what, f'if it is meant as a share: {key.name} = "{percent_text(value)}"')
    return _wrong(key, value, allowed)


def _levels(key: Key, value: object) -> Any:
    if not isinstance(value, dict) or not all(isinstance(level, str) for level in value.values()) or len(value) > _MOST:
        return _wrong(key, value, key.kind.value)
    return {unicodedata.normalize("NFC", factor): unicodedata.normalize("NFC", level) for factor, level in value.items()}


def _stated(key: Key, value: object) -> Any:
    """A text, or a table with `words` and numbers by their unit."""
    if isinstance(value, str):
        value = {"words": value}
    given = dict(value) if isinstance(value, dict) and len(value) <= _MOST else {}
    words = given.pop("words", None)
    numbers = not any(isinstance(n, bool) or not isinstance(n, int | float) or not abs(n) <= 1e15 for n in given.values())
    if not isinstance(words, str) or not words.strip() or not numbers:
        return _wrong(key, value, key.kind.value)
    return Stated(unicodedata.normalize("NFC", words), {unicodedata.normalize("NFC", u): float(n) for u, n in given.items()})


def _expects(key: Key, value: object) -> Any:
    if not isinstance(value, dict) or len(value) > _MOST or not all(_is_fact(fact) for fact in value.values()):
        return _wrong(key, value, "a table whose values are texts, numbers, true or false")
    return {unicodedata.normalize("NFC", name): _fact(fact) for name, fact in value.items()}


def _is_fact(value: object) -> bool:
    return isinstance(value, str | bool) or (isinstance(value, int | float) and abs(value) <= 1e15)


def _fact(value: str | float | bool) -> str | float | bool:
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    return value if isinstance(value, bool) else float(value)


_CHECKS: Final[Mapping[Kind, Callable[[Key, object], Any]]] = {
    Kind.TEXT: _text,
    Kind.NAME: _name,
    Kind.NUMBER: _number,
    Kind.COUNT: _count,
    Kind.FLAG: _flag,
    Kind.CHOICE: _choice,
    Kind.TEXTS: _texts,
    Kind.CHOICES: _choices,
    Kind.COUNTS: _counts,
    Kind.RATIO: _ratio,
    Kind.LEVELS: _levels,
    Kind.FACTS: _levels,
    Kind.STATED: _stated,
    Kind.EXPECTS: _expects,
}
