"""How proof and change of the PC are spoken of: what changed, which results straddle it, what would make them good again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

from evenhand.bench.model import BenchAccount, Change, Effect, Grade, Place, Redo
from evenhand.study.model import Study
from evenhand.wording import counted, listed, plain
from evenhand.writeup.model import Column, Section, Table

STALE: Final = "results stale: the PC changed"
CONTRADICTED: Final = "a snapshot contradicts a setup"
SEE: Final = "Which results are stale, and what would mend them: evenhand changes."
#: Pairs and visits that are named before the rest is counted.
SHOWN: Final = 6
_EFFECTS: Final = {
    Effect.STALE: "makes results stale",
    Effect.ROUNDS: "between rounds: taken out with the round",
    Effect.LATER: "no results on both sides yet",
}


def marks(account: BenchAccount) -> tuple[str, ...]:
    """What must be seen at the top of every result."""
    return (STALE,) * bool(account.stale) + (CONTRADICTED,) * any(v.contradicted for v in account.visits)


def warnings(account: BenchAccount) -> tuple[str, ...]:
    """What must be known beside any result, a sentence each."""
    stale = tuple(f"Stale: {plain(c.difference.sentence)}." for c in account.changes if c.effect is Effect.STALE)
    wrong = sum(bool(v.contradicted) for v in account.visits)
    more = (f"{counted(wrong, 'visit has a label', 'visits have labels')} that a snapshot contradicts.",) if wrong else ()
    return (*stale, *((SEE,) if stale else ()), *more)


def in_brief(study: Study, account: BenchAccount) -> tuple[Section, ...]:
    """Only where something is wrong: stale results, labels that a snapshot contradicts."""
    return (*_stale(study, account), *_contradicted(study, account))


def in_full(study: Study, account: BenchAccount) -> tuple[Section, ...]:
    """What is wrong, then every change, then what proves each visit."""
    return (*in_brief(study, account), *_listed(study, account), _proofs(study, account))


def _stale(study: Study, account: BenchAccount) -> tuple[Section, ...]:
    if not account.stale:
        return ()
    causes = [c for c in account.changes if c.effect is Effect.STALE]
    items = [f"{plain(c.difference.sentence)} ({_where(study, c)})" for c in causes]
    said = [_pairs(study, account), *_mend(study, account)]
    heading = f"Results are stale: {counted(len(causes), 'change')} of the PC or its titles that no factor explains"
    return (Section("stale", heading, paragraphs=tuple(said), items=tuple(items), label="stale results"),)


def _pairs(study: Study, account: BenchAccount) -> str:
    """Which comparisons straddle a change."""
    labels, titles = _labels(study)
    by_title: dict[str, list[str]] = defaultdict(list)
    for one, other, title in account.stale:
        by_title[title].append(labels[one] if one == other else f"{labels[one]} with {labels[other]}")
    every = len(study.setups) * (len(study.setups) - 1) // 2
    said = []
    for title, pairs in by_title.items():
        between = len({(a, b) for a, b, t in account.stale if t == title and a != b})
        where = f" at {titles[title]}" if title else ""
        which = "every comparison" if between == every else _some(pairs)
        said.append(f"{which}{where}")
    text = "; ".join(said)
    return f"What mixes visits before and after: {text}."


def _mend(study: Study, account: BenchAccount) -> Iterator[str]:
    """The least that makes them good again; what it takes with the PC as it is."""
    yield f"The least that makes them good again: {_redo(study, account.least)}."
    places = {(r.setup, r.visit, r.title) for r in account.least}
    if any(r.needs for r in account.least) and {(r.setup, r.visit, r.title) for r in account.now} != places:
        yield f"With the PC as it is now: {_redo(study, account.now)}."
    if account.rounds_would:
        yield 'With rounds as a term of the analysis (rounds = "yes" under [protocol]) nothing would be stale.'
    yield 'If a change does not matter, say why: evenhand changes STUDY --waive FACT --why "…"; it stays listed.'


def _redo(study: Study, redo: Sequence[Redo]) -> str:
    labels, titles = _labels(study)
    names = [f"{labels[r.setup]} visit {r.visit}{f' ({titles[r.title]} only)' if r.title else ''}" for r in redo]
    needs = listed(list(dict.fromkeys(need for r in redo for need in r.needs)))
    how = f", with {plain(needs)} as in the visits that stay" if needs else ""
    runs = counted(sum(r.runs for r in redo), "run")
    return f"record {counted(len(redo), 'visit')} again ({runs}{how}): {_some(names)}"


def _contradicted(study: Study, account: BenchAccount) -> tuple[Section, ...]:
    wrong = [v for v in account.visits if v.contradicted]
    if not wrong:
        return ()
    items = [
        f"{_visit(study, (v.setup, v.visit))}: {plain('; '.join(m.sentence for m in v.contradicted), 400)}"
        + (f"; kept because: {plain(v.why)}" if v.why else "")
        for v in wrong
    ]
    count = counted(len(items), "visit has a label", "visits have labels")
    return (Section("contradicted", f"{count} that a snapshot contradicts", items=tuple(items), label="contradicted"),)


def _listed(study: Study, account: BenchAccount) -> tuple[Section, ...]:
    told = [c for c in account.changes if c.difference.grade is not Grade.NOISE or c.difference.waived]
    if not told:
        seen = sum(bool(v.snapshots) for v in account.visits)
        heading = "Nothing changed that no factor explains" if seen > 1 else "Fewer than two visits have a snapshot"
        return (Section("changes", heading, label="changes"),)
    items = tuple(f"{plain(c.difference.sentence)} ({_where(study, c)}): {_weight(c)}" for c in told)
    return (Section("changes", f"{counted(len(told), 'change')} that no factor explains", items=items, label="changes"),)


def _weight(change: Change) -> str:
    if change.difference.waived:
        return f"does not matter, because: {plain(change.difference.waived)}"
    return "to note" if change.difference.grade is Grade.NOTE else _EFFECTS[change.effect]


def _where(study: Study, change: Change) -> str:
    if change.inside:
        return f"in the course of {_visit(study, change.after)}"
    return f"between {_visit(study, change.before)} and {_visit(study, change.after)}"


def _visit(study: Study, place: Place) -> str:
    return f"{study.setup(place[0]).label} visit {place[1]}"


def _proofs(study: Study, account: BenchAccount) -> Section:
    """Visit by visit."""
    rows = []
    for v in account.visits:
        state = "proven" if v.proven else "contradicted" if v.contradicted else "unproven"
        rows.append((study.setup(v.setup).label, str(v.visit), state, str(len(v.snapshots)), str(v.runs), plain(v.tester)))
    columns = (Column.NAME, Column.FIGURE, Column.WORDS, Column.FIGURE, Column.FIGURE, Column.WORDS)
    numeric = (False, True, False, True, True, False)
    table = Table(("setup", "visit", "setup is", "snapshots", "runs that count", "tester"), tuple(rows), numeric, columns=columns)
    proven = sum(v.proven for v in account.visits)
    heading = f"{proven} of {counted(len(rows), 'visit')} proven by a snapshot" if rows else "No visit has a snapshot or a run"
    return Section("proofs", heading, label="visits", tables=(table,) if rows else ())


def _labels(study: Study) -> tuple[dict[str, str], dict[str, str]]:
    return {s.name: s.label for s in study.setups}, {t.name: t.label for t in study.titles}


def _some(names: Sequence[str]) -> str:
    rest = len(names) - SHOWN
    return "; ".join(names) if rest <= 1 else f"{'; '.join(names[:SHOWN])} and {rest} more"
