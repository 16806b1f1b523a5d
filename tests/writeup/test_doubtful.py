"""Doubtful runs: what the checks say with names is told with labels."""

from __future__ import annotations

from dataclasses import replace

from tests.writeup.sample import material

from evenhand.screening.model import Screening
from evenhand.writeup.sections.doubtful import doubtful


def test_remarks_of_the_checks_name_titles_by_their_labels() -> None:
    told = material()
    first, second = told.study.titles[:2]
    remarks = (
        f"{first.name}: too few frames to tell.",
        f"In {first.name} and {second.name} frames of one run cannot surely tell two setups apart: {first.name} needs a proof.",
        "Something evenly slow cannot be told.",
    )
    section = doubtful(replace(told, screening=Screening((), 8, remarks)))
    assert section is not None
    [untold] = [part for part in section.parts if part.anchor == "untold"]
    assert first.name != first.label
    assert untold.items == (
        f"{first.label}: too few frames to tell.",
        f"In {first.label} and {second.label} frames of one run cannot surely tell two setups apart: {first.name} needs a proof.",
        "Something evenly slow cannot be told.",
    )
