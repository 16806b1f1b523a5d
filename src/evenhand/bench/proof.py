"""Which setup is this PC in? The expectations of the levels, held against a snapshot."""

from __future__ import annotations

from collections.abc import Mapping

from evenhand.bench.catalogue import label, same, shown, with_company
from evenhand.bench.model import Mismatch, Origin, Proof, Snapshot, Value
from evenhand.study.model import Setup, Study
from evenhand.wording import listed


def prove(study: Study, snapshot: Snapshot) -> Proof:
    """Hold every setup's expectations against the snapshot.

    A setup without any expectation is never proven: nothing could contradict it. Facts that a person typed in contradict, but do
    not prove.
    """
    wrong: dict[str, tuple[Mismatch, ...]] = {}
    untold: dict[str, tuple[Mismatch, ...]] = {}
    for setup in study.setups:
        against = [_held(snapshot, *expected) for expected in expectations(study, setup)]
        wrong[setup.name] = tuple(m for m in against if m is not None and m.found is not None)
        untold[setup.name] = tuple(m for m in against if m is not None and m.found is None)
    possible = tuple(s.name for s in study.setups if not wrong[s.name])
    whole = [s for s in possible if not untold[s] and _proves(study, study.setup(s), snapshot)]
    told = whole[0] if len(whole) == 1 and possible == (whole[0],) else None
    return Proof(told, possible, {s: m for s, m in wrong.items() if m}, {s: m for s, m in untold.items() if m})


def expectations(study: Study, setup: Setup) -> list[tuple[str, str, str, Value]]:
    """(factor, level, fact, expected value) of a setup's levels."""
    found = []
    for factor in study.factors:
        level = next((lv for lv in factor.levels if lv.name == setup.levels.get(factor.name)), None)
        if level is not None:
            found += [(factor.name, level.name, key, value) for key, value in level.expects.items()]
    return found


def explained(study: Study, one: str, other: str) -> frozenset[str]:
    """Facts that are meant to differ between two setups: what their levels expect and what goes with them, where they differ in
    the factor.
    """
    levels = study.setup(one).levels, study.setup(other).levels
    keys: set[str] = set()
    for factor in study.factors:
        names = {taken.get(factor.name) for taken in levels}
        if len(names) > 1:
            keys.update(key for level in factor.levels if level.name in names for key in (*level.expects, *level.goes_with))
    return with_company(keys)


def meant(study: Study) -> frozenset[str]:
    """Facts that are meant to differ between any two setups of the study."""
    return with_company(key for f in study.factors for level in f.levels for key in (*level.expects, *level.goes_with))


def says(proof: Proof, labels: Mapping[str, str]) -> str:
    """What a snapshot proves, in one sentence."""
    if proof.setup is not None:
        return f"This PC is in {labels[proof.setup]}."
    if not proof.possible:
        reasons = [f"not {labels[s]}: {m[0].sentence}" for s, m in proof.mismatches.items()]
        return f"This PC is in none of the setups: {'; '.join(reasons)}."
    may = listed([labels[s] for s in proof.possible], "or")
    silent = list(dict.fromkeys(label(m.key) for s in proof.possible for m in proof.untold.get(s, ())))
    why = f"; {listed(silent)} cannot be read here" if silent else "; what the levels expect does not tell them apart"
    return f"This PC may be in {may}{why}."


def _held(snapshot: Snapshot, factor: str, level: str, key: str, expected: Value) -> Mismatch | None:
    fact = snapshot.facts.get(key)
    if fact is not None and same(key, fact.value, expected):
        return None
    found = None if fact is None else fact.value
    sentence = f"{label(key)} {shown(key, found)} where {shown(key, expected)} is expected"
    return Mismatch(factor, level, key, expected, found, sentence)


def _proves(study: Study, setup: Setup, snapshot: Snapshot) -> bool:
    """Whether every factor of the setup has an expectation, each met by a fact that was read."""
    expected = expectations(study, setup)
    read = all(snapshot.facts[key].origin is not Origin.TYPED for _, _, key, _ in expected)
    return bool(expected) and read and {f for f, *_ in expected} == set(setup.levels)
