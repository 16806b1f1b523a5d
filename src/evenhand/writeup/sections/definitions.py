"""Whether a conclusion about a low depends on which of its definitions is used."""

from __future__ import annotations

from typing import Final

from evenhand.judging.model import Bearing, DefinedVerdicts, LowDefinitions
from evenhand.measures.catalogue import CATALOGUE
from evenhand.writeup import sentences
from evenhand.writeup.definitions_words import HEADS, accounts, differing, in_short, low_name, place
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table

#: Comparisons that are told in a sentence; the table has them all.
MOST_TOLD: Final = 6


def definitions(material: Material) -> Section | None:
    """None where no low was judged under two definitions."""
    found = material.definitions
    statement = in_short(found)
    if not statement:
        return None
    items = [said for f in found for said in accounts(material, f)]
    hang = [c for f in found for c in f.of(Bearing.DEPENDS)]
    items += [f"{_upper(differing(material, c))}." for c in hang[:MOST_TOLD]]
    items += [f"{len(hang) - MOST_TOLD} more stand in the table."] if len(hang) > MOST_TOLD else []
    return Section(
        anchor="definitions",
        label="definitions of the low",
        heading=statement,
        lead="Three definitions of a low are in use; every one was judged. Where one has a verdict and another is open, or tells "
        "less, they do not contradict each other: an open verdict claims nothing.",
        items=tuple(items),
        parts=tuple(_table(material, f) for f in found if any(_worth_a_row(c) for c in f.compared)),
    )


def _worth_a_row(found: DefinedVerdicts) -> bool:
    return found.bearing in (Bearing.DEPENDS, Bearing.FIRMNESS)


def _table(material: Material, found: LowDefinitions) -> Section:
    """Comparisons whose verdicts differ between definitions, those that contradict each other first."""
    own = [*found.of(Bearing.DEPENDS), *found.of(Bearing.FIRMNESS)]
    mixed = len({c.bearing for c in own}) > 1
    order = [s.name for s in material.study.setups]
    rows = tuple(
        (
            material.setup_label(c.setup),
            place(material, c),
            *(sentences.word(c.verdicts[key]) if key in c.verdicts else "too few frames" for key in found.measures),
            *([("contradiction" if c.bearing is Bearing.DEPENDS else "no contradiction")] if mixed else []),
        )
        for c in own
    )
    heads = (HEADS[CATALOGUE[key].low or ""] for key in found.measures)
    table = Table(
        head=("setup", "title", *heads, *([""] if mixed else [])),
        rows=rows,
        columns=(Column.NAME, Column.WORDS, *(Column.VERDICT for _ in found.measures), *([Column.WORDS] if mixed else [])),
        caption=f"{low_name(found.share)} against {material.setup_label(material.study.baseline)}.",
        looks=tuple(order.index(c.setup) if c.setup in order else -1 for c in own),
    )
    heading = f"Where the definitions of the {low_name(found.share)} have other verdicts"
    return Section(f"definitions-{f'{found.share:g}'.replace('.', '-')}", heading, tables=(table,), folded=True)


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
