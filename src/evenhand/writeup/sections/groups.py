"""How titles respond: a short list of groups, each in a sentence."""

from __future__ import annotations

from evenhand.writeup.groups_words import group_sentence, groups_heading
from evenhand.writeup.material import Material
from evenhand.writeup.model import Section
from evenhand.writeup.sections.naming import measure_name


def groups(material: Material) -> Section | None:
    """None where there are fewer than two titles, or no verdicts to group them by."""
    found = material.groups
    titles = sum(len(g.titles) for g in found)
    if titles < 2 or material.judgement.one_visit:
        return None
    names = " and ".join(f"the {measure_name(m.measure)}" for m in material.leading)
    return Section(
        anchor="responses",
        label="how titles respond",
        heading=groups_heading(found, titles),
        lead=f"Each title stands in one group, by its verdicts against {material.setup_label(material.study.baseline)} and what "
        f"the factors do in {names}.",
        items=tuple(group_sentence(material, g) for g in found),
    )
