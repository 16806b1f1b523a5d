"""Fixing, once per scene, which stretch counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenhand.book.book import Book
from evenhand.book.model import RunRecord
from evenhand.errors import Problem, UsageError
from evenhand.frames.model import Frames, Stretch
from evenhand.frames.stretch import propose
from evenhand.screening.model import Standing
from evenhand.steps.readings import frames_of
from evenhand.steps.scenes import scene_name, scene_of
from evenhand.study.model import RunKey, Study

#: From this many runs of a scene its stretch is fixed while logs are taken in: one bad run among them does no harm.
ENOUGH = 3
#: No more are looked at: the first ones are what "first good runs" means, and memory stays small.
MOST = 24


def settle(book: Book, study: Study, *, at_least: int = ENOUGH) -> tuple[Stretch, ...]:
    """Fix the stretch of every scene that has none and has `at_least` runs that count; returns those fixed now.

    Called with the default while logs are taken in, and with 1 when numbers are asked for.
    """
    decided = book.stretches()
    waiting = {scene: runs for scene, runs in _counting(book).items() if scene not in decided and len(runs) >= at_least}
    named = {scene: runs for scene, runs in waiting.items() if known(study, runs[0].key)}
    return tuple(book.decide_stretch(_proposed(book, study, scene, runs)) for scene, runs in named.items())


def decide_again(book: Book, study: Study, scene: str, by: str, why: str) -> Stretch:
    """Propose a scene's stretch anew from the runs that count now, on a person's word; the numbers of all its runs may change.

    Raises UsageError where the scene "title/scene" has no run that counts.
    """
    runs = [run for run in _counting(book).get(scene, ()) if known(study, run.key)]
    if not runs:
        raise UsageError(
            Problem("no-such-run", f"no run of scene {scene!r} counts", do="take logs of it in, or name it title/scene")
        )
    return book.decide_stretch(replace(_proposed(book, study, scene, runs), decided_by=by, why=why), again=True)


def _counting(book: Book) -> dict[str, list[RunRecord]]:
    """Runs by scene that have a log, but those that a decision keeps out."""
    standings, results = book.standings(), book.results.by_run()
    found: dict[str, list[RunRecord]] = {}
    for run in (run for run in book.runs() if run.id not in results):
        decision = standings.get(run.id)
        if decision is None or decision.standing is Standing.KEPT:
            found.setdefault(scene_name(run.key), []).append(run)
    return found


def _proposed(book: Book, study: Study, scene: str, runs: Sequence[RunRecord]) -> Stretch:
    readings = book.readings()
    whole = [run for run in runs if not readings[run.id].sampled] or runs
    frames: list[Frames] = [frames_of(book, run, readings[run.id]) for run in whole[:MOST]]
    return propose(scene, scene_of(study, runs[0].key).pace.value, frames)


def known(study: Study, key: RunKey) -> bool:
    """Whether the study (still) names a run's title, scene and setup."""
    try:
        scene_of(study, key)
        study.setup(key.setup)
    except KeyError:
        return False
    return True
