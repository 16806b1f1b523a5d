"""Where a number comes from: a run down to its frames, a setup or an effect at a title or over titles down to its visits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.judging.contrasts import FactorContrast, factor_contrasts
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Scale
from evenhand.steps.along import scene_differences
from evenhand.steps.derivation import Derivation
from evenhand.steps.documents import ExplainDocument, Step, encode
from evenhand.steps.explain_advice import regrets
from evenhand.steps.explain_along import curves, places
from evenhand.steps.explain_contrast import (
    Contrast,
    cell_contrast,
    derive,
    effect_contrast,
    pair_at_title,
    pair_over_titles,
)
from evenhand.steps.explain_over import best, like_these
from evenhand.steps.explain_run import explain_run
from evenhand.steps.explain_title import summary
from evenhand.steps.explain_visits import Judged, every_visit_mean, judged_again, noise_parts, runs_to_visits
from evenhand.steps.judge import check_measures
from evenhand.steps.standing import find_run
from evenhand.steps.study import Opened, open_study
from evenhand.wording import listed, nearest
from evenhand.writeup import bench_words, seal_words
from evenhand.writeup.model import Section

#: What stands for all titles together, where no title has that name.
OVER = "over"
BEST = "best"
REGRET = "regret"


@dataclass(frozen=True, slots=True)
class Explained:
    """The derivation, step by step. warned : what must be known of protocol and bench beside it."""

    asked: str
    measure: str
    made: Derivation
    warned: tuple[str, ...] = ()

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps."""
        return tuple(self.made.steps)

    @property
    def sections(self) -> tuple[Section, ...]:
        """The same for a terminal."""
        heading = f"{self.asked}: where its {CATALOGUE[self.measure].label} comes from"
        known = (Section("warned", "What to know of protocol and bench", items=self.warned),) if self.warned else ()
        return (Section("explain", heading), *self.made.sections(), *known)


def explain(folder: Path, what: str, measure: str = "average", against: str | None = None) -> Explained:
    """Explain a run (title[/scene]/setup/vN/rN), a title, or a thing at a place: place/setup, place/factor=level[+factor=level],
    place/best, where a place is a title or `over` (all titles); over/regret. against : a setup other than the baseline.

    Raises UsageError where it is not there.
    """
    check_measures((measure,))
    opened = open_study(folder)
    warned = (*seal_words.warnings(opened.outcome.study, opened.sealing), *bench_words.warnings(opened.bench))
    return Explained(what, measure, _made(opened, folder, what, measure, against), warned)


def _made(opened: Opened, folder: Path, what: str, measure: str, against: str | None) -> Derivation:
    parts = what.strip().split("/")
    if len(parts) >= 4:
        return _run(folder, opened, what, measure)
    shown = opened.outcome.shown
    if measure not in shown.measures:
        gone = f"{measure} was not judged in this study"
        raise UsageError(Problem("unknown-measure", gone, "--measure", "name another measure"))
    judged = judged_again(opened.outcome.study, opened.outcome.runs, shown, measure)
    over = parts[0] == OVER and OVER not in judged.titles
    title = None if over else judged.titles.index(_known(parts[0], judged.titles, "title"))
    if len(parts) > 2 or (over and len(parts) == 1):
        raise UsageError(Problem("no-such-run", f"{what} names no number", "explain", "name over/SETUP, TITLE or TITLE/SETUP"))
    if len(parts) == 1 and title is not None:
        return _title(opened, judged, measure, title)
    made = Derivation()
    if parts[1] == BEST and BEST not in judged.setups:
        _ground(made, judged, title, range(len(judged.setups)))
        best(made, judged, title)
    elif over and parts[1] == REGRET and REGRET not in judged.setups:
        _regret(made, opened, measure)
    elif "=" in parts[1] and parts[1] not in judged.setups:
        contrast = _effect(judged, title, parts[1])
        _ground(made, judged, title, np.flatnonzero(contrast.weights).tolist())
        derive(made, judged, contrast)
    else:
        _setup(made, opened, judged, title, parts[1], against)
    return made


def as_json(found: Explained) -> str:
    """The derivation as a document for programs."""
    return encode(ExplainDocument("evenhand-explain-1", __version__, found.asked, found.measure, found.steps, found.warned))


def _title(opened: Opened, judged: Judged, measure: str, title: int) -> Derivation:
    """A title at a glance; where in its scenes setups differ, for the average."""
    outcome, name = opened.outcome, judged.titles[title]
    made = summary(judged, outcome.shown.measures[measure], title)
    curves(made, outcome.study, outcome.shown.measures[measure], name)
    if measure == "average":
        own = [r for r in outcome.runs if r.key.title == name]
        found = scene_differences(outcome.study, own, opened.stretches, outcome.shown)
        places(made, [a for along in found.values() for a in along])
    return made


def _ground(made: Derivation, judged: Judged, title: int | None, setups: Sequence[int]) -> None:
    """What every comparison rests on: runs and visits of the title, all titles' visit means, the noise."""
    if title is not None:
        runs_to_visits(made, judged, title, [c for c in setups if judged.present(title, c)])
    every_visit_mean(made, judged)
    noise_parts(made, judged)


def _setup(made: Derivation, opened: Opened, judged: Judged, title: int | None, name: str, against: str | None) -> None:
    setup = judged.setups.index(_known(name, judged.setups, "setup"))
    other = judged.setups.index(_known(against or judged.analysis.design.baseline, judged.setups, "setup"))
    pair = [setup] if setup == other else [setup, other]
    lacking = [c for c in pair if title is not None and not judged.present(title, c)]
    if lacking or (title is None and setup == other):
        gone = f"no run of {judged.setups[lacking[0]]} counts there" if lacking else f"{name} is not compared with itself"
        raise UsageError(Problem("no-such-run", gone, "explain", "name another setup, or one to compare it with: --against"))
    _left_out(made, opened, judged, title, pair)
    _ground(made, judged, title, pair)
    if title is not None:
        derive(made, judged, cell_contrast(judged, title, setup), verdict=False)
    if setup == other:
        return
    if not _estimable(judged, title, setup, other):
        gone = "missing visits leave these two without an estimate of their difference"
        raise UsageError(Problem("no-such-run", gone, "explain", "name other setups"))
    if title is not None:
        derive(made, judged, pair_at_title(judged, title, setup, other))
    else:
        contrast = pair_over_titles(judged, setup, other)
        derive(made, judged, contrast)
        like_these(made, judged, opened.outcome.shown.measures[judged.analysis.measure.key], contrast)


def _regret(made: Derivation, opened: Opened, measure: str) -> None:
    advice, shown = opened.outcome.advice, opened.outcome.shown
    if advice is None or measure not in shown.pooled or not advice.title_chances:
        gone = f"nothing was weighed over titles in {measure}"
        raise UsageError(Problem("no-such-run", gone, "explain", "name a measure that counts in the recommendation"))
    log = shown.measures[measure].measure.scale is Scale.LOG
    regrets(made, advice, shown.pooled[measure], dict(shown.design.weights), log=log)


def _left_out(made: Derivation, opened: Opened, judged: Judged, title: int | None, setups: Sequence[int]) -> None:
    """Runs that do not count, and why."""
    if title is None:
        return
    names = {judged.setups[c] for c in setups}
    made.begin("runs that do not count")
    for run in opened.outcome.runs:
        if run.key.title == judged.titles[title] and run.key.setup in names and not run.counts:
            made.say(str(run.key), "left out", "warm-up" if run.warm_up else f"{run.standing}")


def _estimable(judged: Judged, title: int | None, setup: int, against: int) -> bool:
    weights = np.zeros((1, len(judged.setups)))
    weights[0, setup], weights[0, against] = 1.0, -1.0
    possible = judged.analysis.estimable(weights)[:, 0]
    return bool(possible.any() if title is None else possible[title])


def _effect(judged: Judged, title: int | None, name: str) -> Contrast:
    """`memory=5200` or, for an interaction, `memory=5200+power=45`."""
    wanted = frozenset(tuple(term.split("=", 1)) for term in name.split("+"))
    every = _possible(judged, title)
    for place, c in enumerate(every):
        if frozenset((f, level) for f, (level, _) in zip(c.factors, c.levels, strict=True)) == wanted:
            label = " and ".join(
                f"{level} instead of {first} ({f})" for f, (level, first) in zip(c.factors, c.levels, strict=True)
            )
            return effect_contrast(judged, title, [e.weights for e in every], place, label)
    known = ["+".join(f"{f}={level}" for f, (level, _) in zip(c.factors, c.levels, strict=True)) for c in every]
    do = f"name one of {listed(known, 'or')}" if known else "this study has no factors whose effect can be told there"
    raise UsageError(Problem("no-such-run", f"there is no effect {name!r} here", "explain", do))


def _possible(judged: Judged, title: int | None) -> list[FactorContrast]:
    """The effects that can be estimated at the title, or over titles."""
    contrasts, _ = factor_contrasts(judged.analysis.design)
    if not contrasts:
        return []
    possible = judged.analysis.estimable(np.array([c.weights for c in contrasts]))
    here = np.flatnonzero(possible.any(axis=0) if title is None else possible[title])
    return [contrasts[k] for k in here]


def _known(name: str, known: Sequence[str], kind: str) -> str:
    if name in known:
        return name
    like = nearest(name, known)
    do = f"did you mean {like}?" if like else f"name one of {listed(list(known), 'or')}"
    raise UsageError(Problem("no-such-run", f"there is no {kind} {name!r} in this study", "explain", do))


def _run(folder: Path, opened: Opened, what: str, measure: str) -> Derivation:
    with Book.open(folder) as book:
        record = find_run(book, what)
    run = next((r for r in opened.outcome.runs if r.key == record.key), None)
    if run is None:
        gone = f"study.toml no longer names {what}"
        raise UsageError(Problem("no-such-run", gone, "explain", "add it to study.toml again"))
    return explain_run(run, opened.outcome.screening.of(run.key), measure)
