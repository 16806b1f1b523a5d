"""Check every run of a study; on request, carry out the rule that the study states."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.screening.blind import hidden_key, hide
from evenhand.screening.model import Flag, Screening, Standing
from evenhand.steps.blinding import hidden_setups
from evenhand.steps.documents import RunStanding, ScreenDocument, encode
from evenhand.steps.measured import measured_runs
from evenhand.steps.runs import LoggedRun, StudyRun, checked
from evenhand.steps.sealing import sealing
from evenhand.steps.study import something
from evenhand.steps.visits import account_of
from evenhand.study.model import RunKey, Study
from evenhand.study.read import read_study
from evenhand.writeup import bench_words, seal_words
from evenhand.writeup.brief import FEWEST_ALIKE, doubtful, noted, run_names
from evenhand.writeup.model import Section, Table


@dataclass(frozen=True, slots=True)
class Screened:
    """What the checks found. `set_aside` : runs that the study's rule has just set aside. protocol : what must be known of the
    protocol's seal beside it.
    """

    runs: tuple[StudyRun, ...]
    screening: Screening
    set_aside: tuple[RunKey, ...]
    blind: bool
    protocol: tuple[str, ...]
    sections: tuple[Section, ...]


def screen_study(folder: Path, *, blind: bool = False, apply_rule: bool = False) -> Screened:
    """Screen a study. blind : setups are hidden behind numbers. Raises StudyError, BookError, UsageError (no run)."""
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        runs = something(measured_runs(book, study), folder)
        found = checked(study, runs)
        ruled = carry_out_rule(book, study, runs, found) if apply_rule else ()
        if ruled:
            runs = measured_runs(book, study)
        names = hidden_setups(book) if blind else {}
        said = (*seal_words.warnings(study, sealing(book, study)), *bench_words.warnings(account_of(book, study)))
    shown = hide(found, names) if blind else found
    sections = [doubtful(shown)]
    if ruled:
        done = tuple(f"{hidden_key(f.run, names)}: {f.sentence}" for f in sorted(ruled, key=lambda f: hidden_key(f.run, names)))
        sections.append(Section("ruled", f"The study's rule set {len(ruled)} aside; evenhand standing takes it back", items=done))
    decided = None if blind else standings(runs)
    warned = Section("sealing", "What to know of protocol and bench", items=said) if said else None
    more = [section for section in (decided, noted(shown), warned) if section is not None]
    return Screened(runs, shown, tuple(f.run for f in ruled), blind, said, (*sections, *more))


def carry_out_rule(book: Book, study: Study, runs: tuple[StudyRun, ...], found: Screening) -> tuple[Flag, ...]:
    """Set aside the runs that the protocol's rule names and nobody has decided about; returns the flags that were the reason."""
    undecided = {r.key for r in runs if r.decided is None}
    done = []
    for flag in ruled_out(study, found):
        record = book.run(flag.run)
        if flag.run in undecided and record is not None:
            book.set_standing(record, Standing.SET_ASIDE, f"rule: {flag.check}", flag.sentence)
            undecided.discard(flag.run)
            done.append(flag)
    return tuple(done)


def ruled_out(study: Study, found: Screening) -> tuple[Flag, ...]:
    """Flags whose check the study's protocol names as reason to set a run aside."""
    return tuple(f for f in found.flags if f.check in study.protocol.set_aside)


def standings(runs: tuple[StudyRun, ...]) -> Section | None:
    """Runs about which something was decided, by whom and why."""
    alike: dict[tuple[str, ...], list[StudyRun]] = defaultdict(list)
    for run in runs:
        if run.decided:
            alike[run.key.title, run.key.scene, run.decided.standing.value, run.decided.by].append(run)
    rows = [row for same in alike.values() for row in (_together(same) if len(same) >= FEWEST_ALIKE else map(_decision, same))]
    if not rows:
        return None
    table = Table(("run", "standing", "by", "why", "when"), tuple(rows), (False,) * 5)
    return Section("standings", "What was decided about runs", tables=(table,))


def _decision(run: StudyRun) -> tuple[str, ...]:
    d = run.decided
    return (str(run.key), d.standing.value, d.by, d.why, d.at) if d else ()


def _together(runs: Sequence[StudyRun]) -> list[tuple[str, ...]]:
    """Decisions of one person or rule about several runs of a scene, in a row."""
    first, *others = [_decision(run) for run in runs]
    reasons = dict.fromkeys((first[3], *(o[3] for o in others)))
    why = first[3] if len(reasons) == 1 else f"{first[3]} ({len(runs)} reasons of this kind: evenhand screen --json)"
    return [(run_names([run.key for run in runs]), first[1], first[2], why, first[4])]


def as_json(found: Screened) -> str:
    """The answer as a document for programs; in blind mode it names no runs but those in the flags."""
    listed = () if found.blind else found.runs
    return encode(
        ScreenDocument(
            form="evenhand-screen-1",
            version=__version__,
            runs=tuple(
                RunStanding(
                    run=r.key,
                    standing=r.standing.value,
                    by=r.decided.by if r.decided else None,
                    why=r.decided.why if r.decided else None,
                    proven=r.proven,
                    framed=isinstance(r, LoggedRun),
                )
                for r in listed
            ),
            flags=found.screening.flags,
            untold=found.screening.untold,
            protocol=found.protocol,
        )
    )
