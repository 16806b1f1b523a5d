"""The study that a set of runs would be: setups, titles and protocol as found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from evenhand.study.addressing import natural
from evenhand.study.likeness import crossed_words, shared_word
from evenhand.study.model import Factor, Level, Protocol, RunKey, Scene, Setup, Study, Title

_USUAL: Final = ("baseline", "base", "stock", "default", "defaults", "reference", "ref", "control", "standard")
_SMALL: Final = frozenset(("a", "an", "and", "at", "by", "for", "from", "in", "of", "on", "or", "the", "to", "under"))


def study_of(keys: Iterable[RunKey], factors: Sequence[Factor] | None = None, question: str = "") -> Study:
    """The study that these runs answer. Setups in natural order, one called baseline, stock or default first: it is the baseline.

    factors : as `factors_of` gives them; then setups carry levels. Needs at least one key (ValueError).
    """
    runs = list(keys)
    if not runs:
        raise ValueError("a study needs at least one run")
    names = sorted({k.setup for k in runs}, key=lambda name: (name.casefold() not in _USUAL, natural(name)))
    levels = crossed_words(names) if factors else None
    setups = tuple(
        Setup(
            name,
            name,
            {f.name: _level_named(f, word) for f, word in zip(factors, words, strict=True)} if factors and levels else {},
        )
        for name, words in zip(names, levels or [()] * len(names), strict=True)
    )
    visits: Counter[str] = Counter(k.setup for k in {RunKey("", "", k.setup, k.visit, 0) for k in runs})
    counts = Counter((k.title, k.scene, k.setup, k.visit) for k in runs)
    return Study(
        question=question or f"Which of {len(setups)} setups is fastest?",
        baseline=setups[0].name,
        setups=setups,
        titles=_titles(runs),
        factors=tuple(factors) if factors and levels else (),
        protocol=Protocol(visits=max(visits.values()), runs=max(counts.values())),
    )


def factors_of(setups: Sequence[str]) -> tuple[Factor, ...] | None:
    """Factors, where the names of setups are all combinations of words: `6400-65W`, `6400-45W`, `5200-65W`, `5200-45W`.

    A factor is called by the letters that its levels share (`mem6400`), else "factor 1"; None where no full design is evident.
    """
    names = sorted(set(setups), key=natural)
    crossed = crossed_words(names)
    if crossed is None:
        return None
    factors = []
    for number, column in enumerate(zip(*crossed, strict=True), start=1):
        words = tuple(sorted(set(column), key=natural))
        shared, rest = shared_word(words)
        label = shared or f"factor {number}"
        levels = tuple(Level(word, word, _number(tail)) for word, tail in zip(words, rest, strict=True))
        factors.append(Factor(shared.casefold() or f"factor-{number}", label, levels))
    folded_names = {factor.name for factor in factors}
    return tuple(factors) if len(folded_names) == len(factors) else None


def _number(text: str) -> float | None:
    digits = text.rstrip("WwVvAaGgHhMmZzTtBbCcKkPpEe%")
    return float(digits) if digits.isdecimal() and digits.isascii() else None


def _level_named(factor: Factor, word: str) -> str:
    return next(level.name for level in factor.levels if level.name == word)


def _titles(runs: Sequence[RunKey]) -> tuple[Title, ...]:
    titles = sorted({k.title for k in runs}, key=natural)
    scenes = {t: sorted({k.scene for k in runs if k.title == t}, key=natural) for t in titles}
    labels = _labels(titles)
    return tuple(Title(t, labels[t], tuple(Scene(s, labels[t] if s == t else _label(s)) for s in scenes[t])) for t in titles)


def _labels(names: Sequence[str]) -> dict[str, str]:
    """Names made readable, unless that would make two of them alike."""
    made = {name: _label(name) for name in names}
    return made if len(set(made.values())) == len(made) else {name: name for name in names}


def _label(name: str) -> str:
    """`night-ferry` -> `Night Ferry`; names with capitals or spaces are left as they are."""
    if name != name.lower() or " " in name:
        return name
    words = [w for w in name.replace("_", "-").split("-") if w]
    return " ".join(w if i and w in _SMALL else w[:1].upper() + w[1:] for i, w in enumerate(words)) or name
