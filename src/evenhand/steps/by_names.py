"""Which run a log is, told by the names that the study itself has: the everyday case of taking one visit's logs in.

A path is read as words. The study's titles, scenes and setups are looked for among them, then the numbers of visit and run,
marked (`v2`, `visit-2`, `r1`, `run 1`) or, where nothing else is a number, bare in that order. Where a path leaves anything
open, this says nothing, and the guess from the paths' form (`study.guess`) has the word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import Final, TypeVar

from evenhand.study.model import RunKey, Study

_P = TypeVar("_P", bound=PurePath)
_MARKED: Final = {"visit": r"v(?:isit)?", "run": r"r(?:un)?"}
_EDGE_BEFORE, _EDGE_AFTER = r"(?<![^\W_])", r"(?![^\W_])"


def keys_by_names(
    paths: Sequence[_P], study: Study, stated: Mapping[str, str | int | None]
) -> tuple[dict[_P, RunKey], dict[_P, str]] | None:
    """The run of every path that names a setup, and why the others are left out; None where a path that names one leaves
    anything else open, where two would be the same run, or where none names one.

    stated : parts of the key that are known otherwise (title, scene, setup, visit, run).
    """
    setups = [setup.name for setup in study.setups]
    named = [path for path in paths if stated.get("setup") or _without(path.as_posix(), setups) != path.as_posix()]
    keys = {path: _key(path, study, stated) for path in named}
    found = {path: key for path, key in keys.items() if key is not None}
    if not found or len(found) < len(keys) or len(set(found.values())) < len(found):
        return None
    return found, {path: "its path names no setup of the study" for path in paths if path not in found}


def _key(path: PurePath, study: Study, stated: Mapping[str, str | int | None]) -> RunKey | None:
    text = path.with_suffix("").as_posix()
    title, text = _name(text, [t.name for t in study.titles], stated.get("title"))
    if title is None:
        return None
    scenes = [s.name for t in study.titles if t.name == title for s in t.scenes]
    scene, text = _name(text, scenes, stated.get("scene"))
    setup, text = _name(text, [s.name for s in study.setups], stated.get("setup"))
    visit, run = _numbers(text, stated)
    if scene is None or setup is None or visit is None or run is None:
        return None
    return RunKey(title, scene, setup, visit, run)


def _name(text: str, known: Sequence[str], stated: str | int | None) -> tuple[str | None, str]:
    """The one known name among the words of `text` (the only one there is need not be named), and the text without it."""
    if stated is not None:
        return str(stated), _without(text, [str(stated)])
    found = []
    rest = text
    for name in sorted(known, key=len, reverse=True):
        without = _without(rest, [name])
        if without != rest:
            found.append(name)
            rest = without
    if len(found) == 1:
        return found[0], rest
    return (known[0] if not found and len(known) == 1 else None), text


def _without(text: str, names: Iterable[str]) -> str:
    for name in names:
        text = re.sub(_EDGE_BEFORE + re.escape(name) + _EDGE_AFTER, " ", text, flags=re.IGNORECASE)
    return text


def _numbers(text: str, stated: Mapping[str, str | int | None]) -> tuple[int | None, int | None]:
    """Visit and run: stated, marked, or the only bare numbers, in that order."""
    found: dict[str, int] = {part: int(value) for part in _MARKED if (value := stated.get(part)) is not None}
    for part, mark in _MARKED.items():
        marked = re.compile(_EDGE_BEFORE + mark + r"[-_ ]?(\d{1,4})(?!\d)", re.IGNORECASE)
        numbers = {int(number) for number in marked.findall(text)}
        text = marked.sub(" ", text)
        if part not in found and len(numbers) == 1:
            found |= {part: numbers.pop()}
    bare = [int(number) for number in re.findall(_EDGE_BEFORE + r"\d+" + _EDGE_AFTER, text)]
    open_parts = [part for part in _MARKED if part not in found]
    if len(bare) == len(open_parts):
        found |= dict(zip(open_parts, bare, strict=True))
    numbers_of = (found.get("visit"), found.get("run"))
    return numbers_of if all(number is None or number >= 1 for number in numbers_of) else (None, None)
