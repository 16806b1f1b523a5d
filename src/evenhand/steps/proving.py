"""What proves a visit: snapshots that a book keeps, held against what the setups expect. No run gets a label unawares that they
contradict.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from evenhand.bench.model import Mismatch, Proof, Snapshot
from evenhand.bench.proof import prove
from evenhand.bench.understand import snapshot
from evenhand.book.book import Book
from evenhand.book.model import SnapshotRecord, VisitRecord
from evenhand.errors import BenchError, LogError, Problem
from evenhand.steps.standing import who
from evenhand.steps.title_facts import note_titles
from evenhand.study.model import RunKey, Study
from evenhand.wording import plain
from evenhand.writeup.moments import moment as moment_words

INBOX: Final = "inbox"
THIS_PC: Final = "this PC"
#: A snapshot that no visit has yet is taken to be of the visit whose first run begins within this time.
REACH: Final = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Kept:
    """A snapshot in the book, understood. new : it was not there before."""

    record: SnapshotRecord
    snapshot: Snapshot
    new: bool


def understood(record: SnapshotRecord) -> Snapshot:
    """A snapshot of the book, as this version understands its answers."""
    return snapshot(json.loads(record.answers), record.version, record.typed)


def read_answers(path: Path) -> dict[str, Any]:
    """Raw answers of a snapshot file. Raises BenchError where it is none."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        do = "name a file that the script of evenhand inspect --script wrote"
        raise BenchError(Problem("not-a-snapshot", f"it cannot be read as one ({error})", str(path), do)) from error
    snapshot(found if isinstance(found, dict) else {})
    return dict(found)


def keep(book: Book, study: Study, answers: Mapping[str, Any], source: str) -> Kept:
    """Keep a snapshot with what study.toml states of the PC now."""
    made = snapshot(answers, typed=study.bench)
    record, new = book.bench.add_snapshot(answers, made.machine, source, study.bench)
    return Kept(record, made, new)


def from_inbox(book: Book, study: Study) -> tuple[Kept, ...]:
    """Take in the new snapshot files of the study's inbox. They stay where they are; other files are left alone."""
    kept = []
    for path in sorted((book.folder / INBOX).glob("snapshot-*.json")):
        try:
            kept.append(keep(book, study, read_answers(path), path.name))
        except BenchError:
            continue  # half written, or of another program
    return tuple(one for one in kept if one.new)


def attach(
    book: Book,
    study: Study,
    kept: SnapshotRecord,
    setup: str,
    visit: int,
    *,
    although: str = "",
    tester: str | None = None,
    anew: bool = False,
) -> VisitRecord:
    """Let a snapshot belong to a visit. although : reason to keep a label that it contradicts; the visit is then unproven.

    anew : the visit is begun again; earlier snapshots of it no longer count. Raises BenchError (setup-contradicted).
    """
    proof = prove(study, understood(kept))
    wrong = proof.mismatches.get(setup, ())
    if wrong and not although.strip():
        raise BenchError(contradiction(study, kept, proof, setup, f"visit {visit}"))
    before = book.bench.visit(setup, visit)
    began = kept.taken_at if before is None or anew else before.began
    reason = although.strip() if wrong else ""
    by = who() if tester is None else tester
    made = book.bench.add_visit(setup, visit, kept.id, proven=proof.setup == setup, began=began, why=reason, tester=by)
    # The files of another PC's games are not here.
    note_titles(book, study, (setup, visit), moment(kept.taken_at) if kept.source == THIS_PC else None)
    return made


def contradiction(study: Study, kept: SnapshotRecord, proof: Proof, setup: str, where: str) -> Problem:
    """What differs, and the ways out."""
    labels = {s.name: s.label for s in study.setups}
    differs = "; ".join(m.sentence for m in proof.mismatches[setup])
    told = f", and the PC was in {labels[proof.setup]}" if proof.setup else ""
    source = "of this PC" if kept.source == THIS_PC else f"from {kept.source}"
    what = f"the snapshot {source}, taken {moment_words(kept.taken_at)}, is not of {labels[setup]}: {differs}{told}"
    do = 'name the setup that it was, or set the PC and take another snapshot; or keep it unproven: --although "REASON"'
    return Problem("setup-contradicted", plain(what, 600), where, do)


class VisitProofs:
    """Which snapshot each visit has, while logs are taken in.

    A visit that has none gets the latest one that no visit has, taken before its run began and not longer ago than `REACH`.
    """

    def __init__(self, book: Book, study: Study, although: str | None = None) -> None:
        self._book, self._study, self._although = book, study, although or ""
        self._free = {s.id: s for s in book.bench.snapshots()}
        self._proven = {(v.setup, v.visit): v.proven for v in book.bench.visits()}
        self._told: dict[tuple[str, int], str] = {}
        for v in book.bench.visits():
            if v.snapshot is not None:
                self._free.pop(v.snapshot, None)

    def check(self, key: RunKey, started: str | None, where: str) -> None:
        """Raise LogError where the snapshot of the run's visit contradicts its setup and no reason was given."""
        place = (key.setup, key.visit)
        found = None if place in self._proven else self._before(started)
        if found is None:
            return
        try:
            made = attach(self._book, self._study, found, *place, although=self._although)
        except BenchError as error:
            raise LogError([Problem(p.slug, p.what, where, p.do) for p in error.problems]) from error
        self._free.pop(found.id)
        self._proven[place] = made.proven
        self._told[place] = _told(self._study, made, found)

    def said(self) -> tuple[str, ...]:
        """What became of the visits that got a snapshot, a sentence each."""
        return tuple(self._told.values())

    def _before(self, started: str | None) -> SnapshotRecord | None:
        if started is None:
            return None
        began = moment(started)
        near = [s for s in self._free.values() if timedelta(0) <= began - moment(s.taken_at) <= REACH]
        return max(near, key=lambda s: moment(s.taken_at), default=None)


def _told(study: Study, made: VisitRecord, kept: SnapshotRecord) -> str:
    place = f"visit {made.visit} of {study.setup(made.setup).label}"
    if made.proven:
        return f"{place} is proven by the snapshot of {moment_words(kept.taken_at)}"
    if made.why:
        return f"{place} stays unproven although the snapshot of {moment_words(kept.taken_at)} says otherwise: {made.why}"
    return f"{place} is unproven: the snapshot of {moment_words(kept.taken_at)} does not contradict it, but cannot prove it"


def moment(text: str) -> datetime:
    """A moment of ISO 8601; without a zone it is taken as UTC."""
    found = datetime.fromisoformat(text)
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def unmet(proof: Proof, setup: str) -> tuple[Mismatch, ...]:
    """What contradicts a setup, then what could not be told."""
    return (*proof.mismatches.get(setup, ()), *proof.untold.get(setup, ()))
