"""Which titles would do for the next study."""

from __future__ import annotations

from dataclasses import replace

from evenhand.judging.model import Thinning
from evenhand.writeup.material import Material
from evenhand.writeup.model import Section
from evenhand.writeup.thinning_words import thinning_heading, thinning_lead, thinning_sentence, thinning_table


def thinning(material: Material) -> Section | None:
    """The choices are folded; None where the titles are too few to choose from."""
    found = material.thinning
    if found is None or not found.choices:
        return None
    whole = thinned(material, found)
    choices = Section(
        "thinning-choices", "Which titles, and how each choice did", tables=whole.tables, items=whole.items, folded=True
    )
    return replace(whole, tables=(), items=(), parts=(choices,))


def thinned(material: Material, found: Thinning, minutes: float | None = None) -> Section:
    """The choices of each size. minutes : that a title takes in one visit, for what the next study saves."""
    each = 0.0 if minutes is None else 60 * minutes * found.setup_visits
    saved = [each * (len(found.titles) - len(c.kept)) for c in found.choices] if each else []
    return Section(
        anchor="thinning",
        label="titles to keep",
        heading=thinning_heading(found),
        lead=thinning_lead(found),
        items=tuple(thinning_sentence(material, c) for c in found.choices),
        tables=(thinning_table(found.choices, saved),) if found.choices else (),
    )
