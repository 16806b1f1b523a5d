"""How far the answer hangs on the choice of titles."""

from __future__ import annotations

from evenhand.writeup.dependence_words import (
    dependence_heading,
    dependence_row,
    dependence_sentence,
    firm_sentence,
    loose,
    settled,
)
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table


def dependence(material: Material) -> Section | None:
    """None where no verdict over titles is settled: what is open hangs on more than the titles."""
    found = material.dependence
    known = settled(found) if found else ()
    if found is None or not known:
        return None
    order = [s.name for s in material.study.setups]
    table = Table(
        head=("setup", "measure", "all titles", "moved most by", "without it", "same verdict"),
        rows=tuple(dependence_row(material, o) for o in known),
        columns=(Column.NAME, Column.WORDS, Column.VERDICT, Column.WORDS, Column.FIGURE, Column.FIGURE),
        caption=f"Against {material.setup_label(material.study.baseline)}, over titles. Same verdict: in how many of "
        f"{found.samples} studies with as many titles, drawn with replacement from these.",
        looks=tuple(order.index(o.setup) for o in known),
    )
    firm = firm_sentence(known)
    each = Section(
        "dependence-each",
        "Each verdict: what it would take to turn it, and which title moves it most",
        tables=(table,),
        items=tuple(f"{dependence_sentence(material, o)}." for o in known),
        folded=True,
    )
    return Section(
        anchor="dependence",
        label="choice of titles",
        heading=dependence_heading(material, known),
        lead="What would be said over titles if some of them had not been in the study; the noise between visits stays as all of "
        "them show it.",
        items=(*(f"{dependence_sentence(material, o)}." for o in loose(known)), *((firm,) if firm else ())),
        parts=(each,),
    )
