"""Where in the scenes of a title setups differ."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.charts.differences import scene_differences
from evenhand.judging.model import Along
from evenhand.study.model import Title
from evenhand.writeup.along_words import along_heading, along_sentence
from evenhand.writeup.answer import labels
from evenhand.writeup.material import Material
from evenhand.writeup.model import Figure, Section
from evenhand.writeup.sections.drawing import Drawing
from evenhand.writeup.sections.naming import title_anchor


def along_drawings(material: Material, title: Title) -> list[Drawing]:
    """A chart for each scene of a title in which setups can be compared along it."""
    return [_drawing(material, found) for found in _scenes(material, title)]


def along_section(material: Material, title: Title, drawn: tuple[Figure, ...]) -> Section | None:
    """The charts `drawn` with what they show in words; folded where no difference is told. None without a scene."""
    found = [a for scene in _scenes(material, title) for a in scene]
    if not found:
        return None
    return Section(
        f"{title_anchor(title.name)}-along",
        heading=along_heading(found, labels(material)),
        figures=drawn,
        items=tuple(_place(material, title, a) for a in found if a.passages),
        folded=not any(a.passages for a in found),
    )


def _scenes(material: Material, title: Title) -> list[Sequence[Along]]:
    return [found for s in title.scenes if (found := material.along.get((title.name, s.name)))]


def _drawing(material: Material, along: Sequence[Along]) -> Drawing:
    return lambda form: scene_differences(material.study, along, form=form)


def _place(material: Material, title: Title, along: Along) -> str:
    """One setup in a sentence, with its scene where the title has several."""
    scene = next((s.label for s in title.scenes if s.name == along.scene), along.scene)
    said = along_sentence(along, labels(material)[along.setup])
    return f"{scene}, {said}" if len(title.scenes) > 1 else said
