"""From the originals of a book to the numbers of its runs: original, frames, stretch, measures.

Frames and numbers are kept in derived/. A row of numbers is used again only where all that it was made from is the same: the
frames, the decision about the stretch, the study's target rate, and the code of the rooms that make numbers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from typing import Any, Final

import polars as pl

from evenhand.book.book import Book
from evenhand.book.model import ReadingRecord, ResultRecord, RunRecord, StandingRecord, StretchRecord
from evenhand.frames.model import Cut, Frames, Start
from evenhand.frames.stretch import apply
from evenhand.measures.compute import measure_run
from evenhand.measures.model import RunMeasures, RunSensors
from evenhand.steps.readings import frames_of
from evenhand.steps.runs import LoggedRun, StudyRun, mark_warm_up
from evenhand.steps.scenes import SCORES, scene_name
from evenhand.steps.sensed import Counted, sensors_of
from evenhand.steps.stretches import known, settle
from evenhand.study.model import RunKey, Study

#: Table in derived/ that holds a row for each run.
TABLE: Final = "runs"
#: Rooms whose code makes the numbers.
_MAKERS: Final = ("stats", "frames", "measures")
_LIBRARIES: Final = ("numpy", "scipy")


@dataclass(frozen=True, slots=True)
class Made:
    """What the numbers of a run are made from; the same `Made` gives the same numbers."""

    frames_sha256: str
    stretch: int
    target_rate: float
    code: str


@dataclass(frozen=True, slots=True)
class Numbers:
    """What derived/ keeps of a run: where the frames that count lie, and what they measure."""

    first: int
    last: int
    start: Start
    lag_s: float
    missing: float
    measures: RunMeasures

    def cut(self, whole: Frames) -> Cut:
        """The frames that count, of the run's frames."""
        return Cut(whole.cut(self.first, self.last), self.first, self.last, self.start, self.lag_s, self.missing)


@dataclass(frozen=True, slots=True, eq=False)
class MadeRun:
    """One run on record with its frames, its numbers, and what these are made from."""

    record: RunRecord
    reading: ReadingRecord
    whole: Frames
    made: Made
    numbers: Numbers

    @property
    def counted(self) -> Counted:
        """Where the frames that count lie in the recording."""
        lead = float(self.whole.ns[: self.numbers.first].sum() / 1e9)
        return Counted(self.record.id, lead, self.numbers.measures.seconds, self.numbers.measures.frames)


def measured_runs(book: Book, study: Study) -> tuple[StudyRun, ...]:
    """Every run that the study names, whatever its standing, in the study's order, with frames and measures.

    A scene whose stretch was never fixed gets it now, from the runs that there are. Raises BookError where an original is gone
    or damaged and derived data do not hold its frames.
    """
    decided, results = book.standings(), book.results.by_run()
    made = made_runs(book, study)
    sensed = sensors_of(book, [run.counted for run in made])
    logged = {run.record.id: _logged(run, decided.get(run.record.id), sensed.get(run.record.id)) for run in made}
    return mark_warm_up(
        study,
        [
            logged[r.id] if r.id in logged else _stated(study, r, results[r.id], decided.get(r.id))
            for r in in_order(study, book.runs())
        ],
    )


def made_runs(book: Book, study: Study, *, anew: bool = False) -> list[MadeRun]:
    """Those of them that have a log, as the ledger knows them. anew : make every number again, whatever derived/ holds."""
    settle(book, study, at_least=1)
    readings, stretches, results = book.readings(), book.stretch_records(), book.results.by_run()
    kept = {} if anew else kept_numbers(book)
    runs = []
    for record in (r for r in in_order(study, book.runs()) if r.id not in results):
        reading, stretch = readings[record.id], stretches[scene_name(record.key)]
        whole = frames_of(book, record, reading)
        made = Made(reading.frames_sha256, stretch.id, study.target_rate, code())
        runs.append(MadeRun(record, reading, whole, made, kept.get(made) or _measured(whole, stretch, study.target_rate)))
    if set(kept) != {run.made for run in runs}:
        book.keep_table(TABLE, _table(runs))
    return runs


def in_order(study: Study, runs: Iterable[RunRecord]) -> list[RunRecord]:
    """The runs that the study names, in its order of titles, scenes and setups, then by visit and run."""
    scenes = {(t.name, s.name): i for i, (t, s) in enumerate((t, s) for t in study.titles for s in t.scenes)}
    setups = {setup.name: i for i, setup in enumerate(study.setups)}
    named = [run for run in runs if known(study, run.key)]
    return sorted(named, key=lambda r: (scenes[r.key.title, r.key.scene], setups[r.key.setup], r.key.visit, r.key.run))


def unnamed(book: Book, study: Study) -> tuple[RunRecord, ...]:
    """Runs in the book whose title, scene or setup study.toml no longer names: kept, but not looked at."""
    return tuple(run for run in book.runs() if not known(study, run.key))


@cache
def code() -> str:
    """A fingerprint of the code that makes numbers, and of the libraries it stands on."""
    found = hashlib.sha256(" ".join(map(version, _LIBRARIES)).encode())
    for room in _MAKERS:
        for file in sorted(files("evenhand").joinpath(room).iterdir(), key=lambda f: f.name):
            if file.name.endswith(".py"):
                found.update(file.read_bytes())
    return found.hexdigest()[:16]


def kept_numbers(book: Book) -> dict[Made, Numbers]:
    """The numbers that derived/ holds."""
    table = book.kept_table(TABLE)
    if table is None or not set(table.columns) >= _COLUMNS:
        return {}
    return {_made(row): _numbers(row) for row in table.iter_rows(named=True)}


def _measured(whole: Frames, stretch: StretchRecord, target_rate: float) -> Numbers:
    cut = apply(whole, stretch.stretch)
    return Numbers(cut.first, cut.last, cut.start, cut.lag_s, cut.missing, measure_run(cut.counted, target_rate))


def _stated(study: Study, record: RunRecord, found: ResultRecord, decided: StandingRecord | None) -> StudyRun:
    """A run that has a result and no frames."""
    told, score = found.result, study.title(record.key.title).score
    said = {"average": told.average, "low_stated": told.low, **({SCORES[score]: told.score} if score else {})}
    values = {key: value for key, value in said.items() if value is not None}
    return StudyRun(
        key=record.key,
        measures=RunMeasures(values, {}, (), 0, 0.0),
        sha256=record.sha256,
        source=record.source,
        account=record.account,
        decided=decided,
        proven=record.proven,
    )


def _logged(run: MadeRun, decided: StandingRecord | None, sensors: RunSensors | None) -> LoggedRun:
    record, measures = run.record, run.numbers.measures
    if sensors is not None and sensors.energy is not None:
        measures = replace(measures, values={**measures.values, "energy": sensors.energy})
    return LoggedRun(
        key=record.key,
        whole=run.whole,
        cut=run.numbers.cut(run.whole),
        measures=measures,
        sha256=record.sha256,
        source=record.source,
        account=record.account,
        decided=decided,
        position=None if record.started is None else datetime.fromisoformat(record.started).timestamp(),
        proven=record.proven,
        sampled=run.reading.sampled,
        bad_rows=run.reading.bad_rows,
        sensors=sensors,
    )


# A row of the table. The first columns are for people who open it with other tools; the program reads the rest.
_COLUMNS: Final = {
    *("frames_sha256", "stretch", "target_rate", "code", "first", "last", "lag_s", "missing", "frames", "seconds", "too_short"),
    *("start_frame", "start_s", "start_loading", "start_transition", "start_why"),
}


def _table(runs: Sequence[MadeRun]) -> pl.DataFrame:
    return pl.DataFrame([_row(run.record.key, run.made, run.numbers) for run in runs], infer_schema_length=None)


def _row(key: RunKey, made: Made, found: Numbers) -> dict[str, object]:
    return {
        **{"title": key.title, "scene": key.scene, "setup": key.setup, "visit": key.visit, "run": key.run},
        **{"frames_sha256": made.frames_sha256, "stretch": made.stretch, "target_rate": made.target_rate, "code": made.code},
        **{"first": found.first, "last": found.last, "lag_s": found.lag_s, "missing": found.missing},
        **{"start_frame": found.start.frame, "start_s": found.start.seconds, "start_why": found.start.why},
        **{"start_loading": found.start.loading, "start_transition": found.start.transition},
        **{"frames": found.measures.frames, "seconds": found.measures.seconds},
        "too_short": ",".join(found.measures.too_short),
        **{f"value:{name}": float(value) for name, value in found.measures.values.items()},
        **{f"tail:{name}": int(count) for name, count in found.measures.tail_counts.items()},
    }


def _made(row: Mapping[str, Any]) -> Made:
    return Made(row["frames_sha256"], row["stretch"], row["target_rate"], row["code"])


def _numbers(row: Mapping[str, Any]) -> Numbers:
    start = Start(row["start_frame"], row["start_s"], row["start_loading"], row["start_transition"], row["start_why"])
    short = tuple(name for name in row["too_short"].split(",") if name)
    values = {name[6:]: value for name, value in row.items() if name.startswith("value:")}
    tails = {name[5:]: count for name, count in row.items() if name.startswith("tail:") and count is not None}
    measures = RunMeasures(values, tails, short, row["frames"], row["seconds"])
    return Numbers(row["first"], row["last"], start, row["lag_s"], row["missing"], measures)
