"""What differs between two snapshots, and how much it matters."""

from __future__ import annotations

from collections.abc import Iterable

from evenhand.bench.catalogue import FACTS, label, same, shown
from evenhand.bench.model import Difference, Grade, Snapshot, Value, Waiver


def differences(
    before: Snapshot, after: Snapshot, explained: Iterable[str] = (), waivers: Iterable[Waiver] = ()
) -> tuple[Difference, ...]:
    """Facts that differ, those that matter most first.

    explained : facts that are meant to differ (what the levels of the setups expect, and what goes with them); they are no
    differences. waivers : changes that a person said do not matter; they are kept, graded as noise.
    """
    meant, excused = frozenset(explained), tuple(waivers)
    found = []
    for key, row in FACTS.items():
        one, other = before.facts.get(key), after.facts.get(key)
        old, new = one.value if one else None, other.value if other else None
        if key in meant or _same(key, old, new):
            continue
        why = waived(excused, key, old, new)
        grade = row.grade if old is not None and new is not None else min(row.grade, Grade.NOTE, key=_weight)
        sentence = f"{label(key)}: {shown(key, old)} before, {shown(key, new)} now"
        found.append(Difference(key, old, new, Grade.NOISE if why else grade, sentence, why))
    return tuple(sorted(found, key=lambda d: -_weight(d.grade)))


def waived(waivers: Iterable[Waiver], fact: str, one: Value | None, other: Value | None) -> str:
    """Why a change between two values does not matter, "" where nobody said so. Which came first does not matter."""
    for w in waivers:
        straight = _same(fact, w.before, one) and _same(fact, w.after, other)
        if w.fact == fact and (straight or (_same(fact, w.before, other) and _same(fact, w.after, one))):
            return w.why
    return ""


def _same(key: str, one: Value | None, other: Value | None) -> bool:
    return one is other if one is None or other is None else same(key, one, other)


def _weight(grade: Grade) -> int:
    return -list(Grade).index(grade)
