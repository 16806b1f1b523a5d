"""From the fields that a pattern cut out of paths to the runs they are."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import PurePath
from typing import Final

from evenhand.study.model import RunKey
from evenhand.study.names import folded, safe_name
from evenhand.study.pattern import Cut, Field, Pattern, bare, matched

#: What a setup or title is called where the pattern does not say.
NO_SETUP: Final = "setup"
NO_TITLE: Final = "title"

_DIGITS: Final = re.compile(r"(\d+)")
_EDGES: Final = " -_.,"


@dataclass(frozen=True, slots=True)
class Assigned:
    """What a pattern makes of paths. clashes : paths that would be the same run as an earlier one -> that one."""

    keys: Mapping[PurePath, RunKey]
    clashes: Mapping[PurePath, PurePath]
    unmatched: tuple[PurePath, ...]


@dataclass(frozen=True, slots=True)
class _Parts:
    title: str
    scene: str
    setup: str
    visit: int | None
    run: int | None
    day: tuple[int, int, int] | None


@lru_cache(maxsize=20_000)
def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sorting key in which 10 comes after 9."""
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, folded(part)) for part in _DIGITS.split(text) if part)


def assign(pattern: Pattern, paths: Sequence[PurePath]) -> Assigned:
    """The run of every path that the pattern fits.

    With only a scene, title = scene. Without a visit, each day under a setup is a visit, else all is visit 1. Without a run,
    runs are numbered in order of their paths. Names that differ only in capitals are one name, spelt as most often.
    """
    spelling = _Spelling()
    parts = {path: _parts(cut, spelling) for path, cut in matched(pattern, paths).items()}
    parts = {path: spelling.settled(part) for path, part in parts.items()}
    visits = _visits_of_days(parts.values())
    keys: dict[PurePath, RunKey] = {}
    clashes: dict[PurePath, PurePath] = {}
    holders: dict[RunKey, PurePath] = {}
    next_run: Counter[tuple[str, str, str, int]] = Counter()
    for path in sorted(parts, key=lambda p: (natural(bare(p)), p.as_posix())):
        part = parts[path]
        visit = part.visit if part.visit is not None else visits.get((part.setup, part.day), 1)
        cell = (part.title, part.scene, part.setup, visit)
        next_run[cell] += 1
        key = RunKey(*cell, next_run[cell] if part.run is None else part.run)
        if key in holders:
            clashes[path] = holders[key]
        else:
            holders[key] = path
            keys[path] = key
    unmatched = tuple(path for path in paths if path not in parts)
    return Assigned(_from_one(keys), clashes, unmatched)


class _Spelling:
    """Counts how names are written; two that fold alike are one."""

    def __init__(self) -> None:
        self.seen: dict[str, Counter[str]] = defaultdict(Counter)

    def note(self, text: str) -> str:
        name = safe_name(text.strip(_EDGES) or text)
        self.seen[folded(name)][name] += 1
        return name

    def usual(self, name: str) -> str:
        return max(self.seen[folded(name)].items(), key=lambda item: (item[1], item[0]))[0] if folded(name) in self.seen else name

    def settled(self, part: _Parts) -> _Parts:
        return replace(part, title=self.usual(part.title), scene=self.usual(part.scene), setup=self.usual(part.setup))


def _parts(cut: Cut, spelling: _Spelling) -> _Parts:
    found: dict[Field, list[str]] = defaultdict(list)
    for field, text in cut:
        found[field].append(text)
    setup = "-".join(text.strip(_EDGES) or text for text in found[Field.SETUP])
    title, scene = found[Field.TITLE], found[Field.SCENE]
    title_name = spelling.note((title or scene or [NO_TITLE])[0])
    scene_name = spelling.note(scene[0]) if scene else title_name
    visit, run, day = (found[field] for field in (Field.VISIT, Field.RUN, Field.DATE))
    return _Parts(
        title_name,
        scene_name,
        spelling.note(setup or NO_SETUP),
        int(visit[0]) if visit else None,
        int(run[0]) if run else None,
        day_of(day[0]) if day else None,
    )


def day_of(text: str) -> tuple[int, int, int]:
    """Year, month and day of a text that is a day, in either order."""
    numbers = [int(n) for n in _DIGITS.findall(text)]
    if len(numbers) == 1:
        whole = f"{numbers[0]:08d}"
        return int(whole[:4]), int(whole[4:6]), int(whole[6:])
    year, month, day = numbers if numbers[0] > 31 else numbers[::-1]
    return year, month, day


def _visits_of_days(parts: Iterable[_Parts]) -> dict[tuple[str, tuple[int, int, int] | None], int]:
    """Each day on which a setup was recorded is a visit of it, numbered in order."""
    days: dict[str, set[tuple[int, int, int]]] = defaultdict(set)
    for part in parts:
        if part.day is not None:
            days[part.setup].add(part.day)
    return {(setup, day): n for setup, found in days.items() for n, day in enumerate(sorted(found), start=1)}


def _from_one(keys: Mapping[PurePath, RunKey]) -> dict[PurePath, RunKey]:
    """The same with visits and runs that count from 0 moved to count from 1."""
    visit = 1 if any(key.visit == 0 for key in keys.values()) else 0
    run = 1 if any(key.run == 0 for key in keys.values()) else 0
    return {p: RunKey(k.title, k.scene, k.setup, k.visit + visit, k.run + run) for p, k in keys.items()}
