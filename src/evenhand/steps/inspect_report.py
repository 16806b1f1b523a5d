"""What is told of a PC: group by group, what could not be read and why; then what it means to a study."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

from evenhand.bench.catalogue import FACTS, Group, label, same, shown
from evenhand.bench.memory import bandwidth_gb_s, cas_cycles, first_word_ns
from evenhand.bench.model import Difference, Grade, Kind, Mismatch, Origin, Proof, Snapshot, Topology
from evenhand.bench.processor_sets import ProcessorSets
from evenhand.bench.proof import says
from evenhand.bench.understand import typed_in
from evenhand.book.model import SnapshotRecord, VisitRecord
from evenhand.steps.proving import THIS_PC
from evenhand.study.model import Study
from evenhand.units import number
from evenhand.wording import counted, listed, nearest, plain
from evenhand.writeup.model import Section, Table
from evenhand.writeup.moments import moment

#: Facts of the processor that are told together in words.
_TOLD: Final = ("logical_cpus", "physical_cores", "performance_cores", "efficiency_cores", "threads_per_core", "max_clock_mhz")
_GRADES: Final = {Grade.BLOCKS: "matters", Grade.NOTE: "to note", Grade.NOISE: "no matter"}


def described(snapshot: Snapshot, source: str, sets: ProcessorSets) -> tuple[Section, ...]:
    """The PC itself: a section a group that something is known of, then what could not be read."""
    whose = "This PC" if source == THIS_PC else f"The PC of {source}"
    made = [Section("pc", f"{plain(whose)} as it was {moment(snapshot.taken_at)}")]
    for group in Group:
        items = [*_facts(snapshot, group)]
        if group is Group.PROCESSOR:
            items += _processors(snapshot.topology, sets)
        if group is Group.MEMORY:
            items += _memory(snapshot)
        if items:
            made.append(Section(group.name.lower(), group.value, items=tuple(items)))
    return (*made, *_unread(snapshot))


def _facts(snapshot: Snapshot, group: Group) -> Iterator[str]:
    for key, row in FACTS.items():
        fact = snapshot.facts.get(key)
        if row.group is group and fact is not None and not (key in _TOLD and snapshot.topology.online):
            typed = " (typed in)" if fact.origin is Origin.TYPED else ""
            yield f"{row.label}: {plain(shown(key, fact.value))}{typed}"


def _processors(topology: Topology, sets: ProcessorSets) -> Iterator[str]:
    if not topology.online:
        return
    kinds = [k for k in Kind if topology.cores(k)]
    parts = [_cores(topology, kind) for kind in kinds]
    many = f" in {topology.packages} packages" if topology.packages > 1 else ""
    yield f"{counted(len(topology.online), 'logical processor')}{many}: {listed(parts)}"
    off = [c.number for c in topology.cpus if not c.online]
    if off:
        yield f"switched off: {counted(len(off), 'processor')} ({_numbers(off)})"
    yield from _modules(topology)
    if topology.kind_from and Kind.EFFICIENCY in kinds:
        yield f"kinds told apart by {topology.kind_from}"
    yield from _sets(sets, bool(off))


def _cores(topology: Topology, kind: Kind) -> str:
    name = {Kind.PERFORMANCE: "performance core", Kind.EFFICIENCY: "efficiency core"}.get(kind, "core")
    threads = sorted(set(topology.threads(kind)))
    held = counted(threads[0], "thread") if len(threads) == 1 else f"{threads[0]} to {threads[-1]} threads"
    clocks = sorted({c.max_mhz for c in topology.online if c.kind is kind and c.max_mhz})
    upto = f" (up to {listed([number(mhz, 0) for mhz in clocks], 'or')} MHz)" if clocks else ""
    return f"{counted(topology.cores(kind), name)} of {held}{upto}"


def _modules(topology: Topology) -> Iterator[str]:
    """Second-level caches that several cores share."""
    held: dict[int, set[int | None]] = defaultdict(set)
    for cpu in topology.online:
        if cpu.module is not None:
            held[cpu.module].add(cpu.core)
    sizes = Counter(len(cores) for cores in held.values() if len(cores) > 1)
    for cores, modules in sorted(sizes.items()):
        yield f"{counted(modules, 'module')} of {cores} cores that share a second-level cache"


def _numbers(numbers: Sequence[int]) -> str:
    """`2–5, 9`."""
    runs: list[list[int]] = []
    for n in sorted(numbers):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)


def _sets(sets: ProcessorSets, some_off: bool) -> Iterator[str]:
    """What levels may expect."""
    seconds, small = sets.large_threads > sets.large, sets.small > 0
    if not (seconds or small):
        return
    rest = "; processors that are switched off now are not in it" if some_off else ""
    told = [f"{sets.everything} as it is"]
    if seconds:
        told.append(f"{sets.single_threads} without second threads")
    if small and sets.large:
        told.append(f"{sets.large_threads} without efficiency cores")
    if seconds and small and sets.large:
        told.append(f"{sets.large} without either")
    yield f"levels may expect logical_cpus: {listed(told)}{rest}"


def _memory(snapshot: Snapshot) -> Iterator[str]:
    """Latency and bandwidth, where rate and timings are known."""
    rate, timings = snapshot.facts.get("memory_mts"), snapshot.facts.get("memory_timings")
    if rate is None or not isinstance(rate.value, float | int):
        return
    mts = float(rate.value)
    yield f"peak bandwidth {number(bandwidth_gb_s(mts), 1)} GB/s for each channel of 64 bits (8 bytes × {number(mts, 0)} MT/s)"
    cycles = cas_cycles(str(timings.value)) if timings else None
    if cycles is not None:
        worth = number(first_word_ns(cycles, mts), 1)
        yield f"first word after {worth} ns (2000 × {number(cycles, 0)} cycles / {number(mts, 0)} MT/s)"


def _unread(snapshot: Snapshot) -> tuple[Section, ...]:
    """What could not be read, facts of the same reason together."""
    alike: dict[str, list[str]] = defaultdict(list)
    for key, why in snapshot.unread.items():
        if FACTS[key].group is not Group.BESIDE:
            alike[why].append(key)
    if not alike:
        return ()
    items = tuple(f"{listed(names)}: {plain(why)}" for why, names in alike.items())
    said = (
        "What you know of these you can state in study.toml, under [study.bench]; it is printed as typed in and proves nothing."
    )
    return (Section("unread", "Could not be read", paragraphs=(said,), items=items),)


def of_study(
    study: Study,
    snapshot: Snapshot,
    proof: Proof,
    visit: VisitRecord | None,
    before: SnapshotRecord | None,
    since: tuple[Difference, ...],
    inbox: int,
) -> tuple[Section, ...]:
    """Which setup the PC is in, what differs from the others, what changed since the last snapshot."""
    labels = {s.name: s.label for s in study.setups}
    items = [f"not {labels[s]}: {_reasons(wrong)}" for s, wrong in proof.mismatches.items() if proof.possible]
    items += [f"cannot tell of {labels[s]}: {_reasons(silent)}" for s, silent in proof.untold.items() if s in proof.possible]
    items += [*_typed_otherwise(study, snapshot), *_unknown(study), *_silent(study)]
    said = [_of_visit(visit, labels)]
    if inbox:
        said.append(f"{counted(inbox, 'further snapshot')} of the inbox {'was' if inbox == 1 else 'were'} taken in.")
    heading, told = says(proof, labels).removesuffix("."), tuple(plain(item, 400) for item in items)
    return (Section("setup", heading, paragraphs=tuple(said), items=told), *_changed(before, since))


def _reasons(found: Sequence[Mismatch]) -> str:
    return "; ".join(m.sentence for m in found)


def _silent(study: Study) -> Iterator[str]:
    """Factors of which no snapshot can tell the level."""
    for factor in study.factors:
        bare = [level.label for level in factor.levels if not level.expects]
        if bare:
            yield f"{factor.label}: nothing can prove {listed(bare, 'or')} until it says in study.toml what it expects"


def _of_visit(visit: VisitRecord | None, labels: dict[str, str]) -> str:
    if visit is None:
        return "The snapshot is in the book. The first runs that begin within 12 hours are held against it."
    place = f"visit {visit.visit} of {labels[visit.setup]}"
    if visit.proven:
        return f"The snapshot is in the book and proves {place}."
    return f"The snapshot is in the book with {place}, which stays unproven{f': {plain(visit.why)}' if visit.why else ''}."


def _typed_otherwise(study: Study, snapshot: Snapshot) -> Iterator[str]:
    """Facts that study.toml states otherwise than they are read."""
    for key, value in typed_in(study.bench).items():
        read = snapshot.facts[key]
        if read.origin is not Origin.TYPED and not same(key, value, read.value):
            yield f"study.toml states {label(key)} {shown(key, value)}; it is read as {shown(key, read.value)}"


def _unknown(study: Study) -> Iterator[str]:
    """Expectations of facts that no snapshot has: nothing can ever meet them."""
    for factor in study.factors:
        named = dict.fromkeys(key for level in factor.levels for key in (*level.expects, *level.goes_with))
        for key in (key for key in named if key not in FACTS):
            near = nearest(key, tuple(FACTS))
            hint = f"did you mean {near}?" if near else "docs/reference/bench-facts.md lists them"
            yield f"{factor.label} names {key}, which is no fact of a snapshot; {hint}"


def _changed(before: SnapshotRecord | None, since: tuple[Difference, ...]) -> tuple[Section, ...]:
    if before is None:
        return ()
    telling = [d for d in since if d.grade is not Grade.NOISE or d.waived]
    if not telling:
        return (Section("since", f"Nothing else changed since the snapshot of {moment(before.taken_at)}"),)
    rows = tuple(
        (label(d.key), shown(d.key, d.before), shown(d.key, d.after), _GRADES[d.grade] + (f": {d.waived}" if d.waived else ""))
        for d in telling
    )
    strong = sum(d.grade is Grade.BLOCKS for d in telling)
    head = f"{counted(strong, 'thing')} that should not" if strong else "Small things"
    table = Table(("fact", "before", "now", ""), rows, (False,) * 4)
    return (Section("since", f"{head} changed since the snapshot of {moment(before.taken_at)}", tables=(table,)),)
