"""All runs with their standing, and the decisions of the book."""

from __future__ import annotations

import math

from evenhand import wording
from evenhand.units import number
from evenhand.writeup.material import Material, RunEntry
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import measure_name, run_name


def runs(material: Material) -> Section | None:
    """None where a report has no list of runs."""
    if not material.runs:
        return None
    counting = sum(r.counts for r in material.runs)
    order = [s.name for s in material.study.setups]
    measures = [m.measure for m in material.leading]
    table = Table(
        head=("run", "standing", *(measure_name(m) for m in measures), "frames", "seconds", "setup", "log"),
        rows=tuple(
            (
                run_name(material, r.key),
                _standing(r),
                *(_value(r.values.get(m.key, math.nan)) for m in measures),
                f"{r.frames}",
                number(r.seconds, 1),
                "proven" if r.proven else "unproven",
                _log(r),
            )
            for r in material.runs
        ),
        columns=(
            Column.NAME,
            Column.WORDS,
            *(Column.FIGURE for _ in measures),
            Column.FIGURE,
            Column.FIGURE,
            Column.WORDS,
            Column.CODE,
        ),
        looks=tuple(order.index(r.key.setup) if r.key.setup in order else -1 for r in material.runs),
    )
    parts = []
    if material.events:
        parts.append(
            Section(
                "events",
                f"{wording.counted(len(material.events), 'decision or change', 'decisions and changes')} on record",
                tables=(Table(("when", "what"), material.events, columns=(Column.CODE, Column.WORDS)),),
                folded=True,
            )
        )
    return Section(
        anchor="runs",
        label="all runs",
        heading=f"{counting} of {wording.counted(len(material.runs), 'run')} count",
        parts=(Section("every-run", "Every run and its standing", tables=(table,), folded=True), *parts),
    )


def _standing(run: RunEntry) -> str:
    words = "warm-up" if run.warm_up else run.standing.value
    return f"{words} ({run.by})" if run.by else words


def _value(value: float) -> str:
    return number(value, 1)


def _log(run: RunEntry) -> str:
    return run.sha256[:12]
