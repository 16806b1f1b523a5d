"""The visits of a study as its book knows them: their snapshots, what counts in them, what the snapshots say of it all."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from evenhand.bench.history import bench_account
from evenhand.bench.model import BenchAccount, Place, SeenVisit, Snapshot
from evenhand.book.book import Book
from evenhand.book.model import RunRecord, VisitRecord
from evenhand.judging.judge import LEAST_ROUND_DF
from evenhand.judging.layout import complete_rounds
from evenhand.planning.minutes import practice_runs
from evenhand.screening.model import Standing
from evenhand.steps.measured import in_order
from evenhand.steps.proving import moment, understood
from evenhand.steps.scenes import scene_of
from evenhand.study.model import Rounds, RunKey, Study

_LAST: Final = "9999"  # after every moment that is known


def account_of(book: Book, study: Study) -> BenchAccount:
    """What the snapshots of a book say of its visits; nothing is measured or judged for it."""
    counting = counting_runs(book, study)
    visits = seen_visits(book, study, counting)
    return bench_account(study, visits, book.bench.waivers(), rounds=rounds_used(study, [run.key for run in counting]))


def counting_runs(book: Book, study: Study) -> tuple[RunRecord, ...]:
    """The runs that count: kept, and no practice."""
    decided = book.standings()
    return tuple(
        run
        for run in in_order(study, book.runs())
        if run.key.run > practice_runs(study, scene_of(study, run.key))
        and (run.id not in decided or decided[run.id].standing is Standing.KEPT)
    )


def seen_visits(book: Book, study: Study, counting: Iterable[RunRecord]) -> tuple[SeenVisit, ...]:
    """Visits that have a snapshot or a run that counts, in the order of time; those of unknown time last."""
    runs: dict[Place, Counter[str]] = defaultdict(Counter)
    began: dict[Place, str] = {}
    proven: dict[Place, bool] = {}
    for run in counting:
        place = run.key.setup, run.key.visit
        runs[place][run.key.title] += 1
        proven[place] = proven.get(place, True) and run.proven
        if run.started:
            began[place] = min(began.get(place, _LAST), run.started)
    rows: dict[Place, list[VisitRecord]] = defaultdict(list)
    names = {setup.name for setup in study.setups}
    anew: dict[Place, str] = {}
    for row in (row for row in book.bench.visits() if row.setup in names):
        own = rows[row.setup, row.visit]
        if own and own[-1].began != row.began:
            own.clear()
            anew[row.setup, row.visit] = row.began
        own.append(row)
    snapshots = {record.id: understood(record) for record in book.bench.snapshots()}
    titles = _titles(book, study, anew)
    found = []
    for place in {**rows, **runs}:
        last = rows[place][-1] if rows[place] else None
        found.append(
            SeenVisit(
                *place,
                began=last.began if last else began.get(place, ""),
                proven=last.proven if last else proven[place],
                snapshots=_of_visit(rows[place], snapshots),
                why=last.why if last else "",
                tester=last.tester if last else "",
                runs=dict(runs[place]),
                titles=titles.get(place, {}),
            )
        )
    return tuple(sorted(found, key=lambda v: (v.began == "", moment(v.began).timestamp() if v.began else 0.0)))


def rounds_used(study: Study, keys: Sequence[RunKey]) -> bool:
    """Whether rounds are a term of the analysis of these runs, by the same rule as the judge's."""
    if study.protocol.rounds is not Rounds.AUTO or not keys:
        return study.protocol.rounds is Rounds.YES
    setups, visits = sorted({k.setup for k in keys}), sorted({k.visit for k in keys})
    there = {(k.setup, k.visit) for k in keys}
    present = np.array([[(s, v) in there for v in visits] for s in setups])
    df = present.sum() - len(setups) - len(visits) + 1
    return complete_rounds(present[np.newaxis]) and bool(df >= LEAST_ROUND_DF)


def _of_visit(rows: Iterable[VisitRecord], snapshots: Mapping[int, Snapshot]) -> tuple[Snapshot, ...]:
    own = dict.fromkeys(row.snapshot for row in rows if row.snapshot is not None)
    return tuple(sorted((snapshots[number] for number in own), key=lambda s: moment(s.taken_at)))


def _titles(book: Book, study: Study, anew: Mapping[Place, str]) -> dict[Place, dict[tuple[str, str], tuple[str, ...]]]:
    """What titles were, visit by visit, each further value a change. anew : when visits began that were begun again; of what was
    before, the last value is the one that they began with.
    """
    names = {title.name for title in study.titles}
    found: dict[Place, dict[tuple[str, str], tuple[str, ...]]] = defaultdict(dict)
    for row in book.bench.title_facts():
        if row.title in names and row.setup is not None and row.visit is not None:
            place, key = (row.setup, row.visit), (row.title, row.fact)
            before = found[place].get(key, ())
            if place in anew and moment(row.moment) <= moment(anew[place]):
                before = ()
            found[place][key] = (*before, row.value)
    return found
