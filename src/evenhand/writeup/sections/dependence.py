"""How far the answer hangs on the choice of titles."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.judging.model import OverDependence, TitleDependence
from evenhand.writeup.dependence_words import (
    dependence_heading,
    dependence_row,
    dependence_sentence,
    firm_sentence,
    loose,
    recommendation_sentence,
    settled,
)
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table


def dependence(material: Material) -> Section | None:
    """None where nothing is settled over titles: what is open hangs on more than the titles."""
    found = material.dependence
    if found is None or not (settled(found) or found.setup):
        return None
    known = settled(found)
    lines = (recommendation_sentence(material, found), *(f"{dependence_sentence(material, o)}." for o in loose(known)))
    return Section(
        anchor="dependence",
        label="choice of titles",
        heading=dependence_heading(material, found),
        lead="What would be said over titles if some of them had not been in the study; the noise between visits stays as all of "
        "them show it.",
        items=tuple(line for line in (*lines, firm_sentence(known)) if line),
        parts=(_each(material, found, known),) if known else (),
    )


def _each(material: Material, found: TitleDependence, known: Sequence[OverDependence]) -> Section:
    order = [s.name for s in material.study.setups]
    table = Table(
        head=("setup", "measure", "all titles", "moved most by", "without it", "same verdict"),
        rows=tuple(dependence_row(material, o) for o in known),
        columns=(Column.NAME, Column.WORDS, Column.VERDICT, Column.WORDS, Column.FIGURE, Column.FIGURE),
        caption=f"Against {material.setup_label(material.study.baseline)}, over titles. Same verdict: in how many of "
        f"{found.samples} studies with as many titles, drawn with replacement from these.",
        looks=tuple(order.index(o.setup) for o in known),
    )
    return Section(
        "dependence-each",
        "Each verdict: what it would take to turn it, and which title moves it most",
        tables=(table,),
        items=tuple(f"{dependence_sentence(material, o)}." for o in known),
        folded=True,
    )
