"""What changed in the course of a study that no factor explains, which comparisons straddle it, and the least that mends them.

Two visits are at odds where a fact that blocks differs and no factor explains it. Where rounds are a term of the analysis only
visits of one round are compared, so a change between rounds is taken out with the round; else all visits are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from evenhand.bench.catalogue import FACTS, label, same, shown
from evenhand.bench.changes import differences, waived
from evenhand.bench.least import least_to_redo
from evenhand.bench.model import (
    BenchAccount,
    Change,
    Difference,
    Effect,
    Grade,
    Origin,
    Place,
    Redo,
    SeenVisit,
    VisitProof,
    Waiver,
)
from evenhand.bench.proof import explained, meant, prove
from evenhand.study.model import Study

#: A title ("" = the PC itself, so every title) with two visits that are at odds there.
Odds = dict[str, dict[Place, set[Place]]]


def bench_account(study: Study, visits: Sequence[SeenVisit], waivers: Sequence[Waiver], *, rounds: bool) -> BenchAccount:
    """Everything the snapshots say. visits : in the order of time. rounds : whether rounds are a term of the analysis."""
    history = _History(study, tuple(visits), tuple(waivers), rounds)
    odds = history.odds()
    by_rounds = history if rounds else replace(history, rounds=True)
    return BenchAccount(
        visits=tuple(map(history.proof, visits)),
        changes=tuple(history.changes(odds)),
        stale=tuple(history.stale(odds)),
        least=tuple(history.redo(odds)),
        now=tuple(history.redo(odds, as_it_is=True)),
        rounds=rounds,
        rounds_would=bool(tuple(history.stale(odds))) and not tuple(by_rounds.stale(by_rounds.odds())),
        facts=dict(_facts(study, visits)),
    )


@dataclass(frozen=True, slots=True)
class _History:
    study: Study
    visits: tuple[SeenVisit, ...]
    waivers: tuple[Waiver, ...]
    rounds: bool

    def proof(self, visit: SeenVisit) -> VisitProof:
        """What stands behind its label now: expectations may have been written after it was recorded."""
        against = [prove(self.study, snapshot).mismatches.get(visit.setup, ()) for snapshot in visit.snapshots]
        return VisitProof(
            setup=visit.setup,
            visit=visit.visit,
            began=visit.began,
            proven=visit.proven and not any(against),
            why=visit.why,
            tester=visit.tester,
            snapshots=tuple(snapshot.taken_at for snapshot in visit.snapshots),
            runs=sum(visit.runs.values()),
            contradicted=next((wrong for wrong in against if wrong), ()),
        )

    # --- what changed

    def changes(self, odds: Odds) -> Iterator[Change]:
        """Each fact against the last visit before that a factor does not part it from."""
        for i, visit in enumerate(self.visits):
            for title, found in self._inside(visit):
                yield Change(visit.place, visit.place, found, self._effect(found, visit, visit, odds, title), title)
            settled: set[tuple[str, str]] = set()
            for earlier in reversed(self.visits[:i]):
                yield from self._between(earlier, visit, settled, odds)

    def _between(self, one: SeenVisit, other: SeenVisit, settled: set[tuple[str, str]], odds: Odds) -> Iterator[Change]:
        for found in self._differences(one, other):
            if ("", found.key) not in settled:
                settled.add(("", found.key))
                yield Change(one.place, other.place, found, self._effect(found, one, other, odds, ""))
        if one.snapshots and other.snapshots:
            known = one.snapshots[-1].facts.keys() & other.snapshots[0].facts.keys()
            settled |= {("", key) for key in known - self._meant(one, other)}
        for title, fact in sorted((one.titles.keys() & other.titles.keys()) - settled):
            settled.add((title, fact))
            changed = self._of_title(title, fact, one.titles[title, fact][-1], other.titles[title, fact][0])
            if changed is not None:
                yield Change(one.place, other.place, changed, self._effect(changed, one, other, odds, title), title)

    def _effect(self, found: Difference, one: SeenVisit, other: SeenVisit, odds: Odds, title: str) -> Effect:
        """What a change does: by whether two visits that are compared, one before it and one after it, are at odds in it."""
        if found.grade is not Grade.BLOCKS:
            return Effect.NONE
        if one is other:
            return Effect.STALE if self._counts(one, title) else Effect.LATER
        before, after = self.visits[: self.visits.index(one) + 1], self.visits[self.visits.index(other) :]
        at_odds = odds.get(title, {})
        for a in before:
            if any(b.place in at_odds.get(a.place, ()) and self._differ_in(found.key, a, b, title) for b in after):
                return Effect.STALE
        recorded = self._counts(one, title) and self._counts(other, title)
        return Effect.ROUNDS if recorded else Effect.LATER

    def _differ_in(self, key: str, one: SeenVisit, other: SeenVisit, title: str) -> bool:
        if title:
            return one.titles[title, key][-1] != other.titles[title, key][0]
        return any(d.key == key and d.grade is Grade.BLOCKS for d in self._differences(one, other))

    def _inside(self, visit: SeenVisit) -> Iterator[tuple[str, Difference]]:
        """What changed from one snapshot of a visit to the next, or of a title in its course; with the title, "" = the PC."""
        for before, after in pairwise(visit.snapshots):
            yield from (("", found) for found in differences(before, after, (), self.waivers))
        for (title, fact), values in visit.titles.items():
            changed = (self._of_title(title, fact, before, after) for before, after in pairwise(values))
            yield from ((title, found) for found in changed if found is not None)

    def _differences(self, one: SeenVisit, other: SeenVisit) -> tuple[Difference, ...]:
        """From the end of one visit to the beginning of a later one."""
        if not (one.snapshots and other.snapshots):
            return ()
        return differences(one.snapshots[-1], other.snapshots[0], self._meant(one, other), self.waivers)

    def _meant(self, one: SeenVisit, other: SeenVisit) -> frozenset[str]:
        """Facts that may differ; where setups are not made of factors nothing tells what they change."""
        if one.setup != other.setup and not self.study.factors:
            return frozenset(FACTS)
        return explained(self.study, one.setup, other.setup)

    def _of_title(self, title: str, fact: str, before: str, after: str) -> Difference | None:
        name = f"{title}: {fact}"
        if same(fact, before, after):
            return None
        why = waived(self.waivers, name, before, after)
        sentence = f"{fact} of {self.study.title(title).label}: {before} before, {after} now"
        return Difference(fact, before, after, Grade.NOISE if why else Grade.BLOCKS, sentence, why)

    # --- what straddles it

    def odds(self) -> Odds:
        """Visits with results that are compared, and are at odds."""
        found: Odds = defaultdict(lambda: defaultdict(set))
        for i, one in enumerate(self.visits):
            for other in self.visits[:i]:
                if self.rounds and one.visit != other.visit:
                    continue
                if self._counts(one) and self._counts(other) and self._blocks(other, one):
                    _add(found[""], one.place, other.place)
                for title, fact in one.titles.keys() & other.titles.keys():
                    differ = self._of_title(title, fact, other.titles[title, fact][-1], one.titles[title, fact][0])
                    if differ and differ.grade is Grade.BLOCKS and self._counts(one, title) and self._counts(other, title):
                        _add(found[title], one.place, other.place)
        return found

    def _blocks(self, one: SeenVisit, other: SeenVisit) -> bool:
        return any(d.grade is Grade.BLOCKS for d in self._differences(one, other))

    def _counts(self, visit: SeenVisit, title: str = "") -> bool:
        return bool(visit.runs.get(title) if title else sum(visit.runs.values()))

    def _spoiled(self, title: str = "") -> set[Place]:
        """Visits with results in whose course the PC, or the title, changed."""
        with_results = (v for v in self.visits if self._counts(v, title))
        return {v.place for v in with_results if any(t == title and d.grade is Grade.BLOCKS for t, d in self._inside(v))}

    def stale(self, odds: Odds) -> Iterator[tuple[str, str, str]]:
        """Pairs of setups, in the study's order, and the title."""
        order = {s.name: i for i, s in enumerate(self.study.setups)}
        pairs = {(a[0], b[0], title) for title, members in odds.items() for a in members for b in members[a]}
        pairs |= {(setup, setup, title) for title in self._titles() for setup, _ in self._spoiled(title)}
        whole = {(a, b) for a, b, title in pairs if not title}
        kept = {(a, b, t) for a, b, t in pairs if order[a] <= order[b] and (not t or (a, b) not in whole)}
        yield from sorted(kept, key=lambda p: (p[2], order[p[0]], order[p[1]]))

    # --- what mends it

    def redo(self, odds: Odds, *, as_it_is: bool = False) -> Iterator[Redo]:
        """The fewest visits to record anew. as_it_is : with the PC as the last snapshot shows it, so without setting it back."""
        spoiled = self._spoiled()
        whole = spoiled | self._chosen("", odds.get("", {}), spoiled, as_it_is)
        yield from (self._redo(v, "", whole, as_it_is) for v in self.visits if v.place in whole)
        for title in self._titles()[1:]:
            chosen = self._spoiled(title) - whole
            chosen |= self._chosen(title, odds.get(title, {}), whole | chosen, as_it_is)
            yield from (self._redo(v, title, whole | chosen, as_it_is) for v in self.visits if v.place in chosen)

    def _chosen(self, title: str, odds: Mapping[Place, set[Place]], gone: set[Place], as_it_is: bool) -> set[Place]:
        left = [v for v in self.visits if v.place not in gone and odds.get(v.place, set()) - gone]
        chosen = {v.place for v in left if as_it_is and self._otherwise_now(v, title)}
        members = [v.place for v in left if v.place not in chosen]
        kept = {m: {o for o in odds[m] if o in members} for m in members}
        runs = {v.place: v.runs.get(title, 0) if title else sum(v.runs.values()) for v in self.visits}
        return chosen | least_to_redo(members, kept, runs)

    def _otherwise_now(self, visit: SeenVisit, title: str) -> bool:
        last = self._last(title)
        if title:
            return any(visit.titles.get(key, values)[-1] != values[-1] for key, values in last.titles.items() if key[0] == title)
        return visit is not last and self._blocks(visit, last)

    def _titles(self) -> tuple[str, ...]:
        """ "" for the PC itself, then every title."""
        return ("", *(t.name for t in self.study.titles))

    def _last(self, title: str) -> SeenVisit:
        """The last visit of which it is known how the PC, or the title, was; what is there now."""
        known = [v for v in self.visits if (any(t == title for t, _ in v.titles) if title else v.snapshots)]
        return known[-1]

    def _redo(self, visit: SeenVisit, title: str, gone: set[Place], as_it_is: bool) -> Redo:
        runs = visit.runs.get(title, 0) if title else sum(visit.runs.values())
        needs = () if as_it_is else tuple(self._needs(visit, title, gone))
        return Redo(visit.setup, visit.visit, title, runs, needs)

    def _needs(self, visit: SeenVisit, title: str, gone: set[Place]) -> Iterator[str]:
        """What must be as in the visits that stay, where the PC is otherwise now."""
        stay = [v for v in self.visits if v.place not in gone and (not self.rounds or v.visit == visit.visit)]
        last = self._last(title)
        for other in stay[:1]:
            if title:
                changed = {k: v[-1] for k, v in other.titles.items() if k[0] == title and last.titles.get(k, v)[-1] != v[-1]}
                yield from (f"{fact} {value}" for (_, fact), value in changed.items())
            else:
                found = self._differences(other, last) if other is not last else ()
                yield from (f"{label(d.key)} {shown(d.key, d.before)}" for d in found if d.grade is Grade.BLOCKS)


def _add(odds: dict[Place, set[Place]], one: Place, other: Place) -> None:
    odds[one].add(other)
    odds[other].add(one)


def _facts(study: Study, visits: Sequence[SeenVisit]) -> Iterator[tuple[str, str]]:
    """What the PC is beside what the setups change, from the last snapshot; neither its name nor what ran beside."""
    last = next((v.snapshots[-1] for v in reversed(visits) if v.snapshots), None)
    varied = meant(study)
    for key, row in FACTS.items():
        fact = last.facts.get(key) if last else None
        if fact is not None and key not in varied and row.grade is Grade.BLOCKS:
            typed = " (typed in)" if fact.origin is Origin.TYPED else ""
            yield label(key), f"{shown(key, fact.value)}{typed}"
