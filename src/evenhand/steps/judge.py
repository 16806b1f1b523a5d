"""Say which differences hold, which do not, and which cannot be told."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.errors import Problem, UsageError
from evenhand.judging.model import MeasureJudgement
from evenhand.measures.catalogue import CATALOGUE
from evenhand.steps.documents import JudgeDocument, encode
from evenhand.steps.material import material
from evenhand.steps.responses import group_entries
from evenhand.steps.study import Opened, open_study
from evenhand.steps.verdicts import own_low
from evenhand.wording import listed, nearest
from evenhand.writeup.brief import account, at_titles, over_titles
from evenhand.writeup.material import Material
from evenhand.writeup.model import Section


@dataclass(frozen=True, slots=True)
class Judged:
    """The study as judged; `measures` are those asked for, all when none was named."""

    opened: Opened
    measures: tuple[str, ...]
    sections: tuple[Section, ...]
    material: Material


def judge_study(folder: Path, measures: tuple[str, ...] = ()) -> Judged:
    """Judge a study. Raises UsageError for an unknown measure, and what opening a study raises."""
    check_measures(measures)
    opened = open_study(folder)
    told = material(opened.outcome, opened.stretches, sealing=opened.sealing, bench=opened.bench)
    if measures:
        judged = told.judgement.measures
        sections = (over_titles(told, measures), *(at_titles(told, judged[m]) for m in measures if m in judged))
    else:
        sections = account(told)
    return Judged(opened, measures, sections, told)


def check_measures(measures: tuple[str, ...]) -> None:
    """Raise UsageError for every name that is no measure."""
    problems = []
    for name in (m for m in measures if m not in CATALOGUE):
        like = nearest(name, tuple(CATALOGUE))
        problems.append(
            Problem(
                "unknown-measure",
                f"there is no measure named {name!r}",
                "--measure",
                f"did you mean {like}?" if like else f"name one of {listed(tuple(CATALOGUE), 'or')}",
            )
        )
    if problems:
        raise UsageError(problems)


def as_json(found: Judged) -> str:
    """The answer as a document for programs (docs/reference/json)."""
    outcome = found.opened.outcome
    shown, study = outcome.shown, outcome.study
    wanted: dict[str, MeasureJudgement] = {k: v for k, v in shown.measures.items() if not found.measures or k in found.measures}
    return encode(
        JudgeDocument(
            form="evenhand-judge-1",
            version=__version__,
            question=study.question,
            baseline=study.baseline,
            low=own_low(study),
            setups=shown.design.setups,
            titles=shown.titles,
            confidence=shown.design.confidence,
            visits=shown.visits,
            runs=shown.runs,
            unproven_runs=sum(not r.proven for r in outcome.runs if r.counts),
            unscreened_runs=found.material.unseen,
            one_visit=shown.one_visit,
            measures=wanted,
            disagreements=(*outcome.disagreements, *shown.disagreements),
            notes=shown.notes,
            groups=group_entries(found.material.groups),
            definitions=found.material.definitions,
            dependence=found.material.dependence,
            advice=outcome.advice,
            protocol=found.opened.sealing,
            look=outcome.look,
            precision=outcome.precision,
            bench=found.opened.bench,
        )
    )
