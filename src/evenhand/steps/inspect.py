"""Look at a PC: what it is, in which setup of a study it is, and what changed since it was looked at last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from evenhand import __version__
from evenhand.bench.changes import differences
from evenhand.bench.collect import collect
from evenhand.bench.model import Difference, Proof, Snapshot
from evenhand.bench.processor_sets import ProcessorSets, processor_sets
from evenhand.bench.proof import explained, meant, prove
from evenhand.bench.understand import snapshot
from evenhand.book.book import Book
from evenhand.book.model import SnapshotRecord, VisitRecord
from evenhand.errors import BenchError, Problem, UsageError
from evenhand.steps.documents import InspectDocument, encode
from evenhand.steps.inspect_report import described, of_study
from evenhand.steps.proving import INBOX, THIS_PC, Kept, attach, from_inbox, keep, read_answers, understood
from evenhand.study.model import Study
from evenhand.study.read import read_study
from evenhand.wording import listed, nearest
from evenhand.writeup.model import Section

SCRIPT: Final = "evenhand-snapshot.py"


@dataclass(frozen=True, slots=True)
class Inspected:
    """A PC as it was looked at. source : "this PC", or a file. kept, proof, visit : of the study, None without one.

    since : what changed since the snapshot before; before : that one. inbox : snapshots that the inbox held beside it.
    """

    snapshot: Snapshot
    source: str
    study: Study | None = None
    kept: Kept | None = None
    proof: Proof | None = None
    before: SnapshotRecord | None = None
    since: tuple[Difference, ...] = ()
    visit: VisitRecord | None = None
    inbox: tuple[Kept, ...] = ()

    @property
    def sets(self) -> ProcessorSets:
        """What the combinations of second threads and small cores would show."""
        return processor_sets(self.snapshot.topology)

    def sections(self) -> tuple[Section, ...]:
        """The account for people."""
        found = described(self.snapshot, self.source, self.sets)
        if self.study is None or self.proof is None:
            return found
        told = of_study(self.study, self.snapshot, self.proof, self.visit, self.before, self.since, len(self.inbox))
        return (*found, *told)


def inspect_pc(
    folder: Path | None = None,
    file: Path | None = None,
    *,
    setup: str | None = None,
    visit: int | None = None,
    although: str = "",
    tester: str | None = None,
    anew: bool = False,
) -> Inspected:
    """Look at this PC, or at the snapshot in `file` (a path, or a name in the study's inbox); with a study, keep it.

    visit : it is of this visit of the setup that it proves, or of `setup`. although, tester, anew : as in `attach`.
    Raises BenchError, StudyError, BookError, UsageError.
    """
    if folder is None:
        if visit is not None or setup is not None:
            raise UsageError(
                Problem("option-unclear", "a visit belongs to a study", "--visit", "name the folder of the study first")
            )
        answers, source = _answers(file, None)
        return Inspected(snapshot(answers), source)
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        answers, source = _answers(file, folder)
        kept = keep(book, study, answers, source)
        inbox = tuple(one for one in from_inbox(book, study) if one.record.id != kept.record.id)
        proof = prove(study, kept.snapshot)
        made = None
        if visit is not None:
            made = attach(
                book, study, kept.record, _setup(study, proof, setup), visit, although=although, tester=tester, anew=anew
            )
        elif setup is not None:
            raise UsageError(
                Problem("option-unclear", "a setup is named without a visit", "--setup", "say which visit: --visit 1")
            )
        before = _before(book, kept.record)
        since = _since(book, study, before, kept.snapshot, proof)
    return Inspected(kept.snapshot, source, study, kept, proof, before, since, made, inbox)


def write_script(folder: Path) -> tuple[str, ...]:
    """Write the one-file script into a folder, byte for byte as this version has it; returns what to say."""
    if not folder.is_dir():
        raise UsageError(Problem("option-unclear", "it is no folder", str(folder), "name the folder of the stick"))
    path = folder / SCRIPT
    path.write_bytes(files("evenhand.bench").joinpath("collect.py").read_bytes())
    return (
        f"Wrote {path}",
        f"On the bench: python {SCRIPT}   (Python 3 alone is enough; it writes a snapshot beside itself)",
        f"Then here:    evenhand inspect STUDY --from snapshot-….json   (or put the file into the study's {INBOX} folder)",
    )


def as_json(found: Inspected) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    return encode(
        InspectDocument(
            form="evenhand-inspect-1",
            version=__version__,
            source=found.source,
            snapshot=found.snapshot,
            processor_sets=found.sets,
            proof=found.proof,
            visit=None if found.visit is None else (found.visit.setup, found.visit.visit),
            proven=found.visit is not None and found.visit.proven,
            since=found.since,
        )
    )


def _answers(file: Path | None, folder: Path | None) -> tuple[Mapping[str, Any], str]:
    if file is None:
        return collect(), THIS_PC
    places = [file] if folder is None else [file, folder / INBOX / file]
    path = next((p for p in places if p.is_file()), None)
    if path is None:
        where = " or in the study's inbox" if folder else ""
        do = "write it on the bench with the script: evenhand inspect --script FOLDER"
        raise BenchError(Problem("no-such-snapshot", f"there is no such file here{where}", str(file), do))
    return read_answers(path), path.name


def _setup(study: Study, proof: Proof, named: str | None) -> str:
    """The setup that a visit is of: as named, or as proven."""
    names = [s.name for s in study.setups]
    if named is not None and named not in names:
        near = nearest(named, names)
        do = f"did you mean {near}?" if near else f"name one of {listed(names, 'or')}"
        raise UsageError(Problem("not-in-study", f"the study has no setup {named!r}", "--setup", do))
    if named is None and proof.setup is None:
        may = f"it may be {listed(proof.possible, 'or')}" if proof.possible else "it is in none of the study's setups"
        do = "say which setup the PC is in with --setup; the visit is then unproven" if proof.possible else "set the PC"
        raise BenchError(Problem("visit-unclear", f"the snapshot does not tell which setup the PC is in: {may}", "--visit", do))
    return named or proof.setup or ""


def _before(book: Book, record: SnapshotRecord) -> SnapshotRecord | None:
    """The last snapshot before this one by the PC's clock."""
    earlier = [s for s in book.bench.snapshots() if (s.taken_at, s.id) < (record.taken_at, record.id)]
    return earlier[-1] if earlier else None


def _since(book: Book, study: Study, before: SnapshotRecord | None, now: Snapshot, proof: Proof) -> tuple[Difference, ...]:
    """What changed since then that no change of setup explains; where a setup is not told, all that setups change explains it."""
    if before is None:
        return ()
    earlier = understood(before)
    was = prove(study, earlier).setup
    known = was is not None and proof.setup is not None
    excused = explained(study, was or "", proof.setup or "") if known else meant(study)
    return differences(earlier, now, excused, book.bench.waivers())


__all__ = ["Inspected", "as_json", "inspect_pc", "write_script"]
