"""Results that came without frames: what titles printed of themselves, and scores of other tests."""

from __future__ import annotations

from evenhand import wording
from evenhand.judging.model import MeasureJudgement
from evenhand.units import number
from evenhand.writeup import sentences
from evenhand.writeup.answer import at_titles
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import measure_name, title_anchor

LEAD = (
    "No check has seen them: a cap, a stutter or a wrong scene would not show. A printed low has a definition nobody stated, "
    "and stands apart from the lows of frames; a score is compared as a ratio, which holds only where its zero is nothing."
)


def stated(material: Material) -> Section | None:
    """None where every run that counts has frames."""
    if not material.unseen:
        return None
    heading = f"{wording.counted(material.unseen, 'run')} of {sum(r.counts for r in material.runs)} came without frames"
    tables = tuple(_table(material, judged) for judged in material.stated)
    return Section("stated", heading, label="results without frames", lead=LEAD, tables=tables)


def _table(material: Material, judged: MeasureJudgement) -> Table:
    """One measure: its titles by setups, value and verdict; over titles where there are several."""
    order = [s.name for s in material.study.setups]
    base = material.study.baseline
    values = {(c.title, c.setup): c.value for c in judged.cells}
    rows, looks, links = [], [], []
    for title in dict.fromkeys(c.title for c in judged.cells):
        found = {c.setup: c for c in at_titles(material, judged) if c.title == title}
        for setup in (s for s in order if (title, s) in values):
            value, other = values[title, setup], found.get(setup)
            said = "baseline" if setup == base else sentences.phrase(other, judged.measure) if other else "not compared"
            figure = number(value, 0 if value >= 1000 else 1)
            rows.append((material.title_label(title), material.setup_label(setup), figure, said))
            looks.append(order.index(setup))
            links.append(title_anchor(title))
    for o in (o for o in judged.over if o.against == base and o.titles > 1):
        where = f"over {wording.counted(o.titles, 'title')}"
        change = sentences.change(o.estimate, o.se_these, judged.measure)
        rows.append((where, material.setup_label(o.setup), change, sentences.phrase(o, judged.measure)))
        looks.append(order.index(o.setup))
        links.append("")
    return Table(
        head=("title", "setup", measure_name(judged.measure), "verdict against the baseline"),
        rows=tuple(rows),
        columns=(Column.NAME, Column.WORDS, Column.FIGURE, Column.VERDICT),
        caption=f"{judged.measure.label}, {judged.measure.unit}. {judged.measure.help}",
        looks=tuple(looks),
        links=tuple(links),
    )
