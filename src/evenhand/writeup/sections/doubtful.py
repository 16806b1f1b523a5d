"""Doubtful runs: what the checks found, and what was decided."""

from __future__ import annotations

import re

from evenhand import wording
from evenhand.charts.runs import MarkedRun, mark_of, run_marks
from evenhand.screening.model import Standing, Weight
from evenhand.writeup.material import Material, RunEntry
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.drawing import figure
from evenhand.writeup.sections.naming import run_name


def doubtful(material: Material) -> Section | None:
    """None where a report has no list of runs."""
    if not material.runs:
        return None
    marked = [MarkedRun(r.key, mark_of(r.standing, r.doubtful)) for r in material.runs]
    found = [r for r in material.runs if r.doubtful or r.standing is not Standing.KEPT]
    notes = [r for r in material.runs if r not in found and r.flags]
    parts = []
    if material.screening.untold:
        told = tuple(_labelled(material, text) for text in material.screening.untold)
        parts.append(Section("untold", "What the checks cannot tell", items=told))
    if notes:
        parts.append(Section("notes", _notes_heading(len(notes)), tables=(_table(material, notes),), folded=True))
    return Section(
        anchor="doubtful-runs",
        label="doubtful runs",
        heading=_heading(material, found),
        lead="The checks see frames, not setups; nothing is ever deleted, and every decision can be taken back.",
        figures=(figure(lambda form: run_marks(material.study, marked, form=form)),),
        tables=(_table(material, found),) if found else (),
        parts=tuple(parts),
    )


def _heading(material: Material, found: list[RunEntry]) -> str:
    seen = sum(r.framed for r in material.runs)
    every = wording.counted(len(material.runs), "run")
    if not found and seen < len(material.runs):
        blind = f"{wording.counted(len(material.runs) - seen, 'run')} came without frames, which no check can see"
        return f"The checks found nothing to doubt in {wording.counted(seen, 'run')}; {blind}" if seen else blind
    if not found:
        return f"The checks found nothing to doubt in {every}"
    dropped = sum(r.standing is not Standing.KEPT for r in found)
    kept = sum(r.standing is Standing.KEPT for r in found)
    decided = [f"{dropped} {'does' if dropped == 1 else 'do'} not count"] * bool(dropped)
    decided += [f"{kept} {'counts' if kept == 1 else 'count'} all the same"] * bool(kept)
    return f"{len(found)} of {every} {'is' if len(found) == 1 else 'are'} in doubt or dropped: {wording.listed(decided)}"


def _labelled(material: Material, text: str) -> str:
    """Setups in quotes, and titles at the beginning, by their labels; the checks know only names."""
    for setup in material.study.setups:
        text = text.replace(f"“{setup.name}”", f"“{material.setup_label(setup.name)}”")
    scene, told, rest = text.partition(": ")
    if told and scene != material.title_label(scene):
        return f"{material.title_label(scene)}: {rest}"
    scenes, told, rest = text.partition(" frames of one run ")
    for title in material.study.titles if told else ():
        scenes = re.sub(rf"(?<![\w/]){re.escape(title.name)}(?![\w/])", title.label.replace("\\", r"\\"), scenes)
    return f"{scenes}{told}{rest}"


def _notes_heading(count: int) -> str:
    return f"Worth knowing about {wording.counted(count, 'other run')}"


def _table(material: Material, runs: list[RunEntry]) -> Table:
    order = [s.name for s in material.study.setups]
    return Table(
        head=("run", "what was found", "standing", "decided by"),
        rows=tuple((run_name(material, r.key), _found(r), r.standing.value, _decision(r)) for r in runs),
        columns=(Column.NAME, Column.WORDS, Column.WORDS, Column.WORDS),
        looks=tuple(order.index(r.key.setup) if r.key.setup in order else -1 for r in runs),
    )


def _found(run: RunEntry) -> str:
    flags = sorted(run.flags, key=lambda f: f.weight is not Weight.DOUBTFUL)
    return " ".join(f.sentence for f in flags) or "nothing"


def _decision(run: RunEntry) -> str:
    if run.warm_up:
        return "the protocol: a warm-up run"
    if not run.by:
        return "nobody yet"
    return f"{run.by}: {run.why}" if run.why else run.by
