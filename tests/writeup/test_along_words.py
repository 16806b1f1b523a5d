"""Where in a scene setups differ, as it is told."""

from __future__ import annotations

from dataclasses import replace

from evenhand.charts import example
from evenhand.judging.model import Along, Passage, Verdict
from evenhand.units import NO_BREAK
from evenhand.writeup.along_words import along_heading, along_sentence

LEAN, SLOW, BOTH = example.along()
LABELS = {s.name: s.label for s in example.STUDY.setups}


def said(one: Along) -> str:
    return along_sentence(one, "B").replace(NO_BREAK, " ")


def test_one_place() -> None:
    place = Passage(20.0, 34.0, -0.08, -0.115, -0.06, Verdict.BEHIND_BEYOND)
    assert said(replace(SLOW, passages=(place,))) == "B: behind between 20 and 34 s (6 to 11 %), elsewhere no difference told"


def test_throughout_and_nowhere() -> None:
    whole = Passage(0.0, 60.0, -0.12, -0.15, -0.09, Verdict.BEHIND_BEYOND)
    assert said(replace(BOTH, passages=(whole,))) == "B: behind beyond the margin throughout (9 to 14 %)"
    assert said(replace(LEAN, passages=())) == "B: no difference told anywhere in the scene"


def test_both_ways_and_many_places() -> None:
    behind = [Passage(a, a + 2.0, -0.08, -0.12, -0.05, Verdict.BEHIND) for a in (0.0, 10.0, 20.0, 30.0)]
    ahead = Passage(50.0, 60.0, 0.05, 0.02, 0.08, Verdict.AHEAD)
    assert said(replace(SLOW, passages=(*behind, ahead))) == (
        "B: behind in 4 places, together 13 % of the scene (the longest between 0 and 2 s, 5 to 11 %); ahead between 50 and 60 s "
        "(2 to 8 %); elsewhere no difference told"
    )


def test_frames_and_short_bins() -> None:
    frames = replace(SLOW, unit="frames", passages=(Passage(20.0, 34.0, -0.08, -0.115, -0.06, Verdict.BEHIND),))
    assert "between 20 and 34 frames (" in said(frames)
    edges = tuple(e / 4 for e in SLOW.edges)
    short = replace(SLOW, edges=edges, passages=(Passage(2.5, 4.0, -0.08, -0.115, -0.06, Verdict.BEHIND),))
    assert "between 2.5 and 4.0 s (" in said(short)


def test_heading_of_a_scene() -> None:
    assert along_heading([replace(LEAN, passages=())], LABELS) == "Nowhere in the scene is a difference told"
    text = along_heading([replace(LEAN, passages=()), SLOW, BOTH], LABELS)
    assert text == "Along the scene, 5200 · 65 W differs in places; 5200 · 45 W differs throughout"
