"""How well an assignment of runs looks like a study: setups crossed with titles, runs and visits numbered."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from itertools import takewhile
from math import log2
from typing import Final

from evenhand.study.addressing import Assigned
from evenhand.study.likeness import crossed_words, setup_likeness
from evenhand.study.model import RunKey
from evenhand.study.pattern import Field, Pattern
from evenhand.study.skeleton import labelled_number

_PREFIXED: Final = re.compile(r".*_")
_NUMBERED: Final = re.compile(r"(.*?)[ _.-]?\d{1,2}")


@dataclass(frozen=True, slots=True)
class Fit:
    """structure : how complete, even and well numbered the design is (0 is perfect, less is worse). sides : evidence that
    setups and titles are not the other way round (positive = as they are).
    """

    structure: float
    sides: float

    @property
    def total(self) -> float:
        """What hypotheses are ranked by."""
        return self.structure + self.sides


def fit_of(pattern: Pattern, found: Assigned) -> Fit:
    """The fit of what `pattern` made of a folder's files."""
    files = len(found.keys) + len(found.clashes) + len(found.unmatched)
    keys = list(found.keys.values())
    if not keys:
        return Fit(-100.0, 0.0)
    setups, scenes = {k.setup for k in keys}, {(k.title, k.scene) for k in keys}
    cells = Counter((k.title, k.scene, k.setup) for k in keys)
    lost = _lost(pattern, found)
    structure = -lost - 8 * len(found.clashes) / files
    structure -= 6 * (1 - len(cells) / (len(setups) * len(scenes)))
    structure -= 2 * _unevenness(cells.values())
    structure -= 4 * _badly_numbered(pattern, keys)
    structure -= 3.0 if len(setups) < 2 else 0.8 * max(0.0, log2(len(setups) / 6))
    structure -= 1.0 if len(cells) == len(keys) and len(keys) > 3 else 0.0
    structure -= _scenes_that_cross(keys) + _price(pattern, keys)
    return Fit(structure, _sides(pattern, keys))


def _lost(pattern: Pattern, found: Assigned) -> float:
    """The price of files that the pattern does not fit; those in other depths of folders are likely something else."""
    files = len(found.keys) + len(found.clashes) + len(found.unmatched)
    beside = sum(len(path.parts) == pattern.depth for path in found.unmatched)
    return (12 * beside + 3 * (len(found.unmatched) - beside)) / files + 6 * max(0.0, len(found.unmatched) / files - 0.5)


def _unevenness(counts: Collection[int]) -> float:
    mean = sum(counts) / len(counts)
    return min(1.0, sum(abs(c - mean) for c in counts) / len(counts) / mean)


def _badly_numbered(pattern: Pattern, keys: Collection[RunKey]) -> float:
    """The share of cells and setups whose runs and visits are not 1, 2, 3 ...; a number that is labelled is what it says."""
    runs = _numbers(keys, lambda k: (k.title, k.scene, k.setup, k.visit), lambda k: k.run)
    visits = _numbers(keys, lambda k: k.setup, lambda k: k.visit)
    wrong = 0.0 if pattern.labelled(Field.RUN) else _share_wrong(runs)
    return wrong / 2 + (0.0 if pattern.labelled(Field.VISIT) else _share_wrong(visits) / 2)


def _numbers(
    keys: Iterable[RunKey], of: Callable[[RunKey], Hashable], number: Callable[[RunKey], int]
) -> Mapping[Hashable, set[int]]:
    groups: dict[Hashable, set[int]] = defaultdict(set)
    for key in keys:
        groups[of(key)].add(number(key))
    return groups


def _share_wrong(groups: Mapping[Hashable, set[int]]) -> float:
    """A group may lack a number or begin later (a visit that was lost), but not by much."""
    wrong = sum(max(numbers) - len(numbers) > 1 + len(numbers) // 2 for numbers in groups.values())
    loose = sum(max(numbers) > len(numbers) for numbers in groups.values())
    return (wrong + 0.2 * loose) / len(groups)


def _scenes_that_cross(keys: Collection[RunKey]) -> float:
    """A scene belongs to a title: names that stand under every title may be something else (a factor)."""
    titles_of: dict[str, set[str]] = defaultdict(set)
    for key in keys:
        if key.scene != key.title:
            titles_of[key.scene].add(key.title)
    titles = len({k.title for k in keys})
    return 1.5 if titles > 1 and titles_of and all(len(found) == titles for found in titles_of.values()) else 0.0


def _price(pattern: Pattern, keys: Collection[RunKey]) -> float:
    """Simpler patterns first: fields cost a little, what is thrown away or read against its own words costs much."""
    fields = pattern.fields
    price = 0.1 * len(fields) + (0.3 if Field.SCENE in fields else 0.0) + _thrown_away(pattern) + _against_words(pattern, keys)
    if fields.count(Field.SETUP) > 1:
        price += 0.2 if crossed_words(sorted({k.setup for k in keys})) else 3.0
        first = fields.index(Field.SETUP)
        price += 0.8 if fields[first + 1] is not Field.SETUP else 0.0
    if Field.RUN not in fields and Field.VISIT in fields and not pattern.labelled(Field.VISIT):
        price += 1.2  # a lone number is a run: without proof that a setup was applied anew, nothing is claimed
    if Field.TITLE not in fields and Field.SCENE not in fields:
        price += 0.6
    price += 0.15 * _cut_setup(pattern)
    if Field.TITLE in fields and Field.SETUP in fields and fields.index(Field.SETUP) < fields.index(Field.TITLE):
        price += 0.3
    return price + (2.0 if Field.SETUP not in fields else 0.0)


def _against_words(pattern: Pattern, keys: Collection[RunKey]) -> float:
    """Names that hold a labelled number, end in numbers like runs, or are cut at a weaker join than they hold; wrong labels."""
    price = 2.0 * (pattern.labelled(Field.VISIT, Field.RUN) + pattern.labelled(Field.RUN, Field.VISIT))
    price += 0.9 * (_PREFIXED.match(_prefix({k.title for k in keys})) is not None)
    weak = any(join.strip("-") in ("", " ") for join in _joins(pattern))
    for names in ({k.setup for k in keys}, {k.title for k in keys}, {k.scene for k in keys if k.scene != k.title}):
        share = 1 / max(1, len(names))
        price += 3.0 * share * sum(map(labelled_number, names)) + 2.0 * _serial(names)
        price += 1.2 * weak * (share * sum("_" in name for name in names) > 0.5)
    return price


def _cut_setup(pattern: Pattern) -> bool:
    """Whether a word right before the setup is left out of its name."""
    pairs = zip(pattern.pieces, pattern.pieces[1:], strict=False)
    return any(b is Field.SETUP and isinstance(a, str) and re.search(r"[^\W\d_][ _.-]?$", a) is not None for a, b in pairs)


def _prefix(names: Collection[str]) -> str:
    """What several names all begin with."""
    if len(names) < 2:
        return ""
    return "".join(letters[0] for letters in takewhile(lambda letters: len(set(letters)) == 1, zip(*names, strict=False)))


def _joins(pattern: Pattern) -> list[str]:
    """Literals between two texts of the same folder or file name."""
    pieces = pattern.pieces
    inner = zip(pieces, pieces[1:], pieces[2:], strict=False)
    texts = [(b, a, c) for a, b, c in inner if isinstance(a, Field) and isinstance(c, Field) and a.is_text and c.is_text]
    return [join for join, _, _ in texts if isinstance(join, str) and "/" not in join]


def _thrown_away(pattern: Pattern) -> float:
    """The time of day behind a day costs next to nothing, any other varying text much."""
    after_day = Field.DATE in pattern.fields and Field.ANY in pattern.fields[pattern.fields.index(Field.DATE) :]
    return 0.2 * after_day + 2.0 * (pattern.fields.count(Field.ANY) - after_day)


def _serial(names: Collection[str]) -> float:
    """The share of names that end in a small number of their own, like `lean 1`, `lean 2`: more likely runs than names."""
    stems = Counter(found.group(1) for name in names if (found := _NUMBERED.fullmatch(name)))
    return sum(count for count in stems.values() if count > 1) / max(1, len(names))


def _sides(pattern: Pattern, keys: Collection[RunKey]) -> float:
    setups = sorted({k.setup for k in keys})
    titles = sorted({k.title for k in keys})
    if Field.SETUP not in pattern.fields or Field.TITLE not in pattern.fields:
        return 0.5 * setup_likeness(setups) if Field.SETUP in pattern.fields else 0.0
    evidence = 1.2 * (setup_likeness(setups) - setup_likeness(titles))
    evidence += 1.2 * ((crossed_words(setups) is not None) - (crossed_words(titles) is not None))
    evidence += 0.4 * max(-2.0, min(2.0, log2(len(titles) / len(setups))))
    return evidence + _beside_visit(pattern) + _one_each_visit(keys)


def _beside_visit(pattern: Pattern) -> float:
    """A visit is a setup's: its number stands behind the setup, or the setup's folder."""
    before = [f for f in pattern.fields if f in (Field.TITLE, Field.SETUP, Field.VISIT, Field.RUN)]
    if Field.VISIT not in before[1:] or not (Field.RUN in before or pattern.labelled(Field.VISIT)):
        return 0.0
    neighbour = before[before.index(Field.VISIT) - 1]
    return {Field.SETUP: 0.7, Field.TITLE: -0.7}.get(neighbour, 0.0)


def _one_each_visit(keys: Collection[RunKey]) -> float:
    """Numbers of visits that differ between setups, but not between titles, were counted over the day: setups, then."""
    by_setup: dict[str, set[int]] = defaultdict(set)
    by_title: dict[str, set[int]] = defaultdict(set)
    for key in keys:
        by_setup[key.setup].add(key.visit)
        by_title[key.title].add(key.visit)
    if max(map(len, by_setup.values())) == 1:
        return -2.0 if len(set().union(*by_setup.values())) > 1 else 0.0  # then the number is a part of the setup's name
    apart_setups = len(by_setup) > 1 and sum(map(len, by_setup.values())) == len(set().union(*by_setup.values()))
    apart_titles = len(by_title) > 1 and sum(map(len, by_title.values())) == len(set().union(*by_title.values()))
    return 1.0 * (apart_setups - apart_titles)
