"""Places along the scene in a report, in its pictures and its tables."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest
from tests.writeup.sample import material

from evenhand.charts import example
from evenhand.judging.model import Along
from evenhand.writeup.compose import compose
from evenhand.writeup.material import Material
from evenhand.writeup.model import Section
from evenhand.writeup.pictures import pictures
from evenhand.writeup.tables import csv_tables


@pytest.fixture(scope="module")
def made() -> Material:
    """The example's places, put into the first two titles of the sample; nothing is told in the second."""
    plain = material()
    setups = [s.name for s in plain.study.setups if s.name != plain.study.baseline]
    base, found = plain.study.baseline, {}
    for told, title in zip((True, False), plain.study.titles, strict=False):
        scene = title.scenes[0].name
        pairs = zip(example.along(), setups, strict=False)
        found[title.name, scene] = tuple(_moved(a, title.name, scene, s, base, told) for a, s in pairs)
    return replace(plain, along=found)


def _moved(one: Along, title: str, scene: str, setup: str, base: str, told: bool) -> Along:
    return replace(one, title=title, scene=scene, setup=setup, against=base, passages=one.passages if told else ())


def parts(made: Material) -> dict[str, Section]:
    return {p.anchor: p for s in compose(made).sections for p in s.parts}


def test_a_section_for_each_scene_folded_where_nothing_is_told(made: Material) -> None:
    found = {anchor: p for anchor, p in parts(made).items() if anchor.endswith("-along")}
    first, second = found.values()
    assert not first.folded and len(first.figures) == 1 and any("behind between 20 and 34" in item for item in first.items)
    assert second.folded and second.items == () and second.heading == "Nowhere in the scene is a difference told"


def test_pictures_only_where_something_is_told(made: Material) -> None:
    names = [c.name for c in pictures(made) if c.name.startswith("along-")]
    assert len(names) == 1


def test_every_bin_is_in_the_table(made: Material) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_tables(made)["along.csv"])))
    assert len(rows) == sum(len(a.estimate) for found in made.along.values() for a in found)
    first = next(iter(made.along.values()))[0]
    assert float(rows[0]["low"]) == first.low[0] and float(rows[0]["to"]) == first.edges[1]
    endless = replace(first, low=(-np.inf,) * 30, high=(np.inf,) * 30, estimate=(np.nan,) * 30)
    bare = csv_tables(replace(made, along={("t", "s"): (endless,)}))["along.csv"]
    assert next(csv.DictReader(io.StringIO(bare)))["low"] == ""
    assert "along.csv" not in csv_tables(replace(made, along={}))
