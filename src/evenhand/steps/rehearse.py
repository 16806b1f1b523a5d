"""Say what a study can be expected to tell, before it is recorded and after, and how the hours are spent best."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.judging.analysis import analyse
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Judgement, Row
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Measure, Scale
from evenhand.planning.minutes import bill
from evenhand.rehearsal import calibration
from evenhand.rehearsal.model import Rehearsal, Scheme, Spreads
from evenhand.rehearsal.rehearse import Asked, Wishes, rehearse
from evenhand.rehearsal.spreads import KINDS, learned, stated
from evenhand.steps.documents import RehearseDocument, encode
from evenhand.steps.judge import check_measures
from evenhand.steps.measured import measured_runs
from evenhand.steps.rehearse_options import NoiseChoice, chosen, costs_of
from evenhand.steps.runs import rows
from evenhand.steps.study import something, that_count
from evenhand.steps.verdicts import design_of, own_low
from evenhand.study.model import Study
from evenhand.study.read import read_study
from evenhand.wording import counted, listed
from evenhand.writeup.model import Section
from evenhand.writeup.rehearsed import account

__all__ = ["NoiseChoice", "Rehearsed", "as_json", "chosen", "rehearse_study", "write_grid"]

Progress = Callable[[int, int, str], None]
LEARNED: Final = "learned from"


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """A study as rehearsed, and what to say of it."""

    study: Study
    rehearsal: Rehearsal
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Book:
    """What a study folder holds: the study, its table of counted runs, and what judging says of it (None: no run counts)."""

    study: Study
    design: Design
    table: list[Row]
    judgement: Judgement | None


def rehearse_study(
    folder: Path,
    measures: Sequence[str] = (),
    *,
    wishes: Wishes,
    noise: NoiseChoice,
    minutes: Sequence[str] = (),
    like: Sequence[Path] = (),
    visits: int | None = None,
    runs: int | None = None,
    progress: Progress = lambda *_: None,
) -> Rehearsed:
    """Rehearse the study in `folder`: as recorded where runs count and nothing else is supposed, as planned otherwise.

    minutes : of the parts of bench work, as typed, where they are not those of the study. like : folders of earlier studies whose
    noise is to be supposed. Raises UsageError, StudyError, BookError, JudgingError.
    """
    check_measures(tuple(measures))
    noise.check()
    given = noise.given()
    study = _read(folder, ()).study
    if len(study.setups) < 2:
        what, do = "there is one setup, so there is nothing to compare", "add another setup, or a factor with its levels"
        raise UsageError(Problem("design-setups", what, str(folder / "study.toml"), do))
    keys = tuple(measures) or ("average", own_low(study))
    learning = tuple(dict.fromkeys(("average", *keys)))
    own = _read(folder, learning)
    earlier = [_read(path, learning, must=True).judgement for path in like]
    books = [book for book in earlier if book is not None]
    supposed_else = bool(given or books) or visits is not None or runs is not None
    recorded = own.judgement is not None and not own.judgement.one_visit and not supposed_else
    scheme = _scheme(study, own, visits, runs, recorded)
    billed = replace(study, titles=tuple(map(study.title, scheme.titles)), costs=costs_of(minutes, study.costs))
    noises = {key: _known(key, own, books, noise.kind) for key in learning}
    asked = [_asked(own, CATALOGUE[key], stated(noises[key], noises["average"], given), recorded) for key in keys]
    notes = _notes(own, recorded, asked, bool(books))
    rehearsal = replace(rehearse(scheme, asked, bill(billed), wishes, progress), notes=notes)
    return Rehearsed(study, rehearsal, account(rehearsal, study))


def _read(folder: Path, keys: Sequence[str], must: bool = False) -> _Book:
    """The study, judged in the measures `keys`. must : a book without a run that counts is an error."""
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        runs = measured_runs(book, study) if keys else ()
    if must:
        that_count(something(runs, folder), folder)
    design = replace(design_of(study), measures=tuple(CATALOGUE[key] for key in keys))
    table = rows(study, [run for run in runs if run.counts])
    return _Book(study, design, table, judge(table, design) if table else None)


def _scheme(study: Study, own: _Book, visits: int | None, runs: int | None, recorded: bool) -> Scheme:
    """As recorded, or as the protocol has it with the numbers asked for instead."""
    protocol, titles = study.protocol, study.titles
    design = protocol.visits, max(protocol.runs - protocol.warmup_runs, 1)
    if recorded and own.judgement is not None:
        titles = tuple(study.title(name) for name in own.judgement.titles)
        design = _recorded(own.table)
    return Scheme(
        titles=tuple(t.name for t in titles),
        setups=tuple(s.name for s in study.setups),
        baseline=study.baseline,
        scenes=tuple(len(t.scenes) for t in titles),
        visits=visits or design[0],
        runs=runs or design[1],
        warm_up=protocol.warmup_runs,
        rounds=own.design.rounds,
        weights=tuple(t.weight for t in titles),
        confidence=study.confidence,
    )


def _recorded(table: Sequence[Row]) -> tuple[int, int]:
    """(visits of a setup, runs of a scene in a visit), both on average."""
    runs = {(row.title, row.scene, row.setup, row.visit, row.run) for row in table}
    visits = {(setup, visit) for _, _, setup, visit, _ in runs}
    a_visit = len(runs) / len({run[:-1] for run in runs})
    return round(len(visits) / len({setup for setup, _ in visits})), round(a_visit)


def _known(key: str, own: _Book, books: Sequence[Judgement], kind: str) -> Spreads:
    """The noise of a measure: of the books named, else the study's own, else of a kind of bench."""
    own_book = () if own.judgement is None else (own.judgement,)
    earlier = f"{LEARNED} {counted(len(books), 'earlier study', 'earlier studies')}"
    for judgements, source in ((books, earlier), (own_book, "this study's own visits")):
        found = learned(judgements, key, source)
        if found is not None:
            return found
    if key not in KINDS[kind]:
        what = f"no noise is known of {CATALOGUE[key].label} on a bench that has not recorded it"
        do = f"name an earlier study that has it with --like FOLDER, or choose from {listed(tuple(KINDS[kind]))}"
        raise UsageError(Problem("noise-unknown", what, "--measure", do))
    return KINDS[kind][key]


def _asked(own: _Book, measure: Measure, spreads: Spreads, recorded: bool) -> Asked:
    margin = own.design.margins.get(measure.key, measure.margin)
    on_scale = math.log1p(margin) if measure.scale is Scale.LOG else margin
    shown = own.judgement.measures.get(measure.key) if own.judgement is not None else None
    if not recorded or shown is None:
        return Asked(measure, on_scale, spreads)
    visits = visit_means(read_runs(own.table, own.design), measure, own.design)
    analysis = analyse(visits, own.design, shown.rounds_used)
    return Asked(measure, on_scale, spreads, analysis, shown) if analysis.told else Asked(measure, on_scale, spreads)


def _notes(own: _Book, recorded: bool, asked: Sequence[Asked], books: bool) -> tuple[str, ...]:
    """What must be known beside the noise."""
    notes = []
    if own.judgement is not None and own.judgement.one_visit and not recorded:
        notes.append(
            "What is recorded so far has one visit of each setup, which tells nothing of how visits differ; this is the plan."
        )
    for a in asked:
        if books and LEARNED not in a.spreads.source:
            notes.append(
                f"{a.measure.label}: the earlier studies named do not tell its noise. Taken instead: {a.spreads.source}."
            )
        if a.spreads.loose:
            notes.append(
                f"{a.measure.label}: one number a visit, so what more runs in a visit would bring cannot be told; all of its "
                "noise is taken for the title's own."
            )
    return tuple(notes)


def write_grid(page: Path, studies: int | None = None) -> tuple[str, ...]:
    """Count the whole calibration grid and write its page. Returns what to say."""
    calibration.write_grid(studies or calibration.STUDIES, page)
    return (f"Wrote {page}: {studies or calibration.STUDIES} studies of each kind.",)


def as_json(found: Rehearsed) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    return encode(RehearseDocument("evenhand-rehearse-1", __version__, found.study.question, found.rehearsal))
