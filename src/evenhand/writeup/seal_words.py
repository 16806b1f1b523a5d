"""How a protocol and its seals are spoken of: when it was sealed, what was at hand then, what was changed since."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Final

from evenhand.measures.catalogue import CATALOGUE
from evenhand.study.model import Change, Seal, Sealing, Study
from evenhand.wording import counted, plain
from evenhand.writeup.moments import day
from evenhand.writeup.sections.naming import measure_name

EXPLORATORY: Final = "exploratory"
CHANGED: Final = "protocol changed since it was sealed"
AMENDED: Final = "protocol amended"
NOT_FIXED: Final = "Exploratory: no protocol was fixed beforehand, so what it finds asks for a study of its own."

#: (part, key) -> what it is called; others are called by part and key.
_NAMES: Final[Mapping[tuple[str, str], str]] = MappingProxyType(
    {
        ("study", "question"): "question",
        ("study", "baseline"): "baseline",
        ("study", "confidence"): "confidence",
        ("study", "low"): "definition of the low",
        ("study", "interval"): "meaning of intervals",
        ("study", "target_rate"): "target rate",
        ("study", "exploratory"): "exploratory",
        ("protocol", "visits"): "visits a setup",
        ("protocol", "runs"): "runs in a visit",
        ("protocol", "warmup_runs"): "warm-up runs",
        ("protocol", "rounds"): "rounds as a term",
        ("protocol", "set_aside"): "checks that set a run aside",
        ("protocol", "looks"): "planned looks",
        ("protocol", "spending"): "spending of the error",
        ("protocol", "stop_at"): "precision to stop at",
    }
)
_NOTHING: Final = "nothing"


def marks(sealing: Sealing | None) -> tuple[str, ...]:
    """What must be seen at the top of every result."""
    if sealing is None:
        return ()
    found = (EXPLORATORY if sealing.exploratory else "", CHANGED if sealing.changes else "")
    amended = AMENDED if any(sealing.amended) else ""
    return tuple(mark for mark in (*found, amended) if mark)


def file_of(seal: Seal) -> str:
    """Name of the file that holds a sealed text byte for byte."""
    return f"protocol-{seal.sha256[:8]}.toml"


def headline(sealing: Sealing) -> str:
    """The situation in one sentence."""
    if sealing.exploratory:
        return "This study calls itself exploratory"
    if not sealing.seals:
        return "The protocol is not sealed"
    first = f"The protocol was sealed {_when(sealing.seals[0])}"
    since = sum(map(len, sealing.amended)) + len(sealing.changes)
    return f"{first}; {counted(since, 'difference')} since" if since else f"{first} and is unchanged"


def said(study: Study, sealing: Sealing) -> tuple[str, ...]:
    """All there is to say, a sentence or difference a line."""
    return tuple(_said(study, sealing))


def _said(study: Study, sealing: Sealing) -> Iterator[str]:
    if sealing.exploratory:
        yield NOT_FIXED
    elif not sealing.seals:
        yield f"Not sealed: {_came(sealing.runs)} without a seal. evenhand seal sets one and tells what was at hand."
    for seal in sealing.seals[:1]:
        yield f"Sealed on {day(seal.at)} by {plain(seal.by)}, {_at_hand(seal)}. SHA-256 {seal.sha256}"
    for seal, differences in _amendments(sealing):
        yield from _amendment(study, seal, differences)
        yield f"SHA-256 of the amended protocol: {seal.sha256}"
    yield from (change(study, c) for c in sealing.changes)


def _when(seal: Seal) -> str:
    if seal.runs:
        return f"after {counted(seal.runs, 'run')} {'was' if seal.runs == 1 else 'were'} in"
    return f"with {counted(seal.at_hand, 'recording')} at hand" if seal.at_hand else "before any run was in"


def _at_hand(seal: Seal) -> str:
    if seal.runs:
        return f"{_when(seal)}: the protocol may have been written with these recordings at hand"
    if seal.at_hand:
        return f"when {counted(seal.at_hand, 'log')} came in as the first: the protocol may have been written with these at hand"
    return "before any run was in"


def _came(runs: int, how: str = "came in") -> str:
    return f"{counted(runs, 'run')} {how}"


def change(study: Study, found: Change) -> str:
    """`margin of the average frame rate: 3 % when sealed, 5 % now`."""
    name = _name(study, found)
    if not found.key:
        return f"{name}: added after sealing" if found.sealed is None else f"{name}: left out since sealing"
    return f"{name}: {_value(found.sealed)} when sealed, {_value(found.now)} now"


def _value(value: str | None) -> str:
    text = plain(value or _NOTHING)
    return f"“{text}”" if ", " in text else text


def _name(study: Study, found: Change) -> str:
    if found.part == "margins":
        return f"margin of the {measure_name(CATALOGUE[found.key])}" if found.key in CATALOGUE else f"margin of {found.key}"
    if (found.part, found.key) in _NAMES:
        return _NAMES[found.part, found.key]
    kind, _, name = found.part.partition(" ")
    labels = {"title": {t.name: t.label for t in study.titles}, "setup": {s.name: s.label for s in study.setups}}
    part = f"{kind} {labels.get(kind, {}).get(name, name)}".strip()
    return f"{plain(part)}, {found.key.replace('_', ' ')}" if found.key else plain(part)


def warnings(study: Study, sealing: Sealing) -> tuple[str, ...]:
    """Only what a reader of a result must know beside the headline: exploratory, what was amended, what differs."""
    if sealing.exploratory:
        return (NOT_FIXED,)
    amended = [line for seal, found in _amendments(sealing) for line in _amendment(study, seal, found)]
    return (*amended, *(change(study, c) for c in sealing.changes))


def _amendments(sealing: Sealing) -> list[tuple[Seal, tuple[Change, ...]]]:
    return list(zip(sealing.seals, sealing.amended, strict=True))[1:]


def _amendment(study: Study, seal: Seal, found: Sequence[Change]) -> Iterator[str]:
    yield f"Amended on {day(seal.at)} by {plain(seal.by)} with {_came(seal.runs, 'in')}, because: {plain(seal.why)}"
    yield from (f"{change(study, c)} (amended)" for c in found)


def in_one_line(study: Study, sealing: Sealing) -> str:
    """Only where there is something to warn of: one line for commands that show no result."""
    if sealing.exploratory:
        return "This study calls itself exploratory."
    if not sealing.changes:
        return ""
    few: Sequence[str] = [change(study, c) for c in sealing.changes[:2]]
    rest = len(sealing.changes) - len(few)
    return f"Protocol changed since it was sealed: {'; '.join(few)}{f'; and {rest} more' if rest else ''}."
