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
    heading = f"{counting} of {wording.counted(len(material.runs), 'run')} count"
    every = Section("every-run", "Every run and its standing", tables=(_table(material),), folded=True)
    return Section(anchor="runs", label="all runs", heading=heading, parts=(every, *_events(material)))


def _table(material: Material) -> Table:
    order = [s.name for s in material.study.setups]
    measures = [m.measure for m in (*material.leading, *material.stated)]
    figures = (Column.FIGURE,) * (len(measures) + 2)
    return Table(
        head=("run", "standing", *(measure_name(m) for m in measures), "frames", "seconds", "setup", "log"),
        rows=tuple(
            (
                run_name(material, r.key),
                _standing(r),
                *(number(r.values.get(m.key, math.nan), 1) for m in measures),
                f"{r.frames}" if r.framed else "–",
                number(r.seconds, 1) if r.framed else "–",
                "proven" if r.proven else "unproven",
                r.sha256[:12],
            )
            for r in material.runs
        ),
        columns=(Column.NAME, Column.WORDS, *figures, Column.WORDS, Column.CODE),
        looks=tuple(order.index(r.key.setup) if r.key.setup in order else -1 for r in material.runs),
    )


def _events(material: Material) -> tuple[Section, ...]:
    """Decisions and changes that the book has on record."""
    if not material.events:
        return ()
    heading = f"{wording.counted(len(material.events), 'decision or change', 'decisions and changes')} on record"
    table = Table(("when", "what"), material.events, columns=(Column.CODE, Column.WORDS))
    return (Section("events", heading, tables=(table,), folded=True),)


def _standing(run: RunEntry) -> str:
    words = "warm-up" if run.warm_up else run.standing.value
    words += "" if run.framed else ", not screened by frames"
    return f"{words} ({run.by})" if run.by else words
