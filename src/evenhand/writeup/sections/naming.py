"""Names that several sections share: anchors, measures, runs."""

from __future__ import annotations

from evenhand.charts.titles import name_of
from evenhand.measures.model import Measure
from evenhand.study.model import RunKey
from evenhand.writeup.material import Material


def title_anchor(title: str) -> str:
    """Where a title's section is."""
    return name_of("title", title)


def measure_name(measure: Measure) -> str:
    """A measure's label as it stands inside a sentence or a table."""
    return f"{measure.label[:1].lower()}{measure.label[1:]}"


def run_name(material: Material, key: RunKey) -> str:
    """`Moss & Ember, market walk, 6400 45 W, visit 2, run 1`."""
    scenes = {s.name: s.label for t in material.study.titles if t.name == key.title for s in t.scenes}
    scene = scenes.get(key.scene, key.scene)
    title = material.title_label(key.title)
    place = title if scene == title or len(scenes) < 2 else f"{title}, {scene}"
    return f"{place}, {material.setup_label(key.setup)}, visit {key.visit}, run {key.run}"
