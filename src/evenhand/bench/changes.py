"""What differs between two snapshots, and how much it matters."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evenhand.bench.catalogue import FACTS
from evenhand.bench.model import Difference, Grade, Snapshot
from evenhand.bench.proof import label, same, shown


def differences(
    before: Snapshot, after: Snapshot, explained: Iterable[str] = (), waived: Mapping[str, str] | None = None
) -> tuple[Difference, ...]:
    """Facts that differ, those that matter most first.

    explained : facts that are meant to differ (what the levels of the setups expect, and what goes with them); they are no
    differences. waived : fact -> why a person said that its change does not matter; it is kept, graded as noise.
    """
    meant, excused = frozenset(explained), waived or {}
    found = []
    for key in FACTS:
        one, other = before.facts.get(key), after.facts.get(key)
        if key in meant or (one is None and other is None):
            continue
        if one is not None and other is not None and same(key, one.value, other.value):
            continue
        old, new = one.value if one else None, other.value if other else None
        grade = FACTS[key].grade if one and other else Grade.NOTE
        sentence = f"{label(key)}: {shown(key, old)} before, {shown(key, new)} now"
        found.append(Difference(key, old, new, Grade.NOISE if key in excused else grade, sentence, excused.get(key, "")))
    order = list(Grade)
    return tuple(sorted(found, key=lambda d: order.index(d.grade)))
