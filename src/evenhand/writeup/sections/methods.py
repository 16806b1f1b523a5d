"""Methods, short, each with its source."""

from __future__ import annotations

from typing import Final

from evenhand import wording
from evenhand.measures.catalogue import CATALOGUE
from evenhand.writeup.look_words import confidence_words
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.over import FEWEST_COUNTED

STATEMENTS: Final = (
    "Rates and lows are compared as ratios (on logarithms), counts that can be zero as differences.",
    "A title's own noise is steadied by that of the other titles (moderated variances: Smyth 2004; Phipson et al. 2016); degrees "
    "of freedom after Satterthwaite (1946).",
    "Intervals of a title hold for all its pairs of setups at once (single-step maximum of |t|: Hothorn, Bretz & Westfall 2008).",
    "Level: the 90 % interval of the pair lies inside the margin, two one-sided tests at 5 % each (Schuirmann 1987). Level is "
    "not transitive: A level with B and B level with C does not make A level with C.",
    "Ahead or behind: the simultaneous interval excludes zero; beyond the margin: it lies wholly beyond it. Anything else is "
    "open.",
    "Over titles: geometric mean of ratios, one vote a title (Fleming & Wallace 1986). For these titles from the visits' means; "
    "for titles like these with the spread between titles added (random effects: Hartung & Knapp 2001; prediction interval: "
    "Higgins, Thompson & Spiegelhalter 2009). More titles never shrink a shift that a visit shares over all titles.",
    "Factor effects are contrasts of the setups' means (Jain 1991, chapters 17 and 18).",
)


def methods(material: Material) -> Section:
    """What was computed and where the method comes from; only what this report uses."""
    rounds = "the round as a block" if material.average.rounds_used else "no term for rounds"
    items = [
        f"The unit is the visit: runs of one visit share whatever was peculiar to it, so visits' means are the replicates; "
        f"{rounds}.",
        *STATEMENTS,
    ]
    if material.average.best:
        items.append(
            "May be the best: setups that cannot be told from the best by multiple comparison with the best (Hsu 1981); the true "
            "best is among them with 95 %."
        )
    if any(c.titles >= FEWEST_COUNTED for c in material.average.counts):
        items.append(
            "Shares of titles: exact binomial (Clopper & Pearson 1934); titles in doubt are left out at the low end and counted "
            "at the high end."
        )
    items += _looks(material)
    if material.judgement.one_visit:
        items.append(
            "One visit a setup: visit and setup cannot be told apart, so no verdict is given; the tipping point says how much "
            "visits would have to differ for the sign to be chance."
        )
    return Section(
        anchor="methods",
        label="methods",
        heading="How it was judged",
        items=tuple(items),
        paragraphs=material.judgement.notes,
        parts=(_measures(material),),
        folded=False,
    )


def _looks(material: Material) -> list[str]:
    """How several looks, or stopping by precision, keep the error."""
    if material.precision is not None:
        return ["Recording stops by the width of intervals, whatever the verdict, so that looking often favours no claim."]
    look = material.look
    if look is None or len(look.planned) < 2:
        return []
    here = f"{confidence_words(look.confidence)}, and {confidence_words(look.inner)} for level"
    return [
        f"Looks were planned at {wording.listed([str(n) for n in look.planned])} visits and share out the error (Lan & DeMets "
        f"1983; Jennison & Turnbull 2000); intervals of this look are {here}."
    ]


def _measures(material: Material) -> Section:
    rows = []
    for key, judged in material.judgement.measures.items():
        m = CATALOGUE.get(key, judged.measure)
        rows.append(
            (
                m.label,
                m.unit,
                m.help,
                f"{m.better.value} is better, compared as {'ratio' if m.scale.value == 'logarithm' else 'difference'}",
                m.source,
            )
        )
    table = Table(
        ("measure", "unit", "what it is", "how compared", "source"),
        tuple(rows),
        columns=(Column.NAME, Column.WORDS, Column.WORDS, Column.WORDS, Column.WORDS),
    )
    return Section("measures", "What was measured", tables=(table,), folded=True)
