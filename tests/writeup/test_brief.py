"""The short account stays short: what is the same of many scenes, measures or titles is said once."""

from __future__ import annotations

from dataclasses import replace

from tests.writeup.sample import material

from evenhand.judging.model import Disagreement, Verdict
from evenhand.screening.model import Screening
from evenhand.writeup.brief import depends, doubtful, noted, rests_on


def test_remarks_alike_but_for_their_numbers_are_told_for_two_scenes() -> None:
    remarks = tuple(f"title-{n}: too flat to tell (runs agree by {n}.5; 4 are needed)." for n in range(8))
    section = noted(Screening((), 8, (*remarks, "something else")))
    assert section is not None
    assert section.items == (*remarks[:2], "and the same of 6 scenes more: evenhand screen --json lists them", "something else")
    few = noted(Screening((), 8, remarks[:3]))
    assert few is not None and few.items == remarks[:3]
    assert noted(Screening((), 8)) is None


def test_no_doubt_is_said_too() -> None:
    assert doubtful(Screening((), 1)).heading == "No run is doubtful"
    assert doubtful(Screening((), 96)).heading == "None of the 96 runs is doubtful"


def test_notes_of_several_measures_are_said_once() -> None:
    told = material()
    labels = [judged.measure.label for judged in told.judgement.measures.values()]
    notes = (*(f"{label}: rounds are no term." for label in labels), "Of all: a note.")
    section = depends(replace(told, judgement=replace(told.judgement, notes=notes, disagreements=()), disagreements=()))
    assert section is not None
    more = len(labels) - 1
    assert section.items == (f"{labels[0]} and {more} other measure{'s' * (more > 1)}: rounds are no term.", "Of all: a note.")


def test_verdicts_that_change_alike_are_told_together() -> None:
    told = material()
    base, setup, titles = told.study.baseline, told.compared[0], told.judgement.titles
    changes = tuple(
        Disagreement("done otherwise", told.average.measure.key, title, setup, base, Verdict.LEVEL, Verdict.OPEN)
        for title in (*titles[:2], None)
    )
    section = depends(replace(told, judgement=replace(told.judgement, notes=(), disagreements=()), disagreements=changes))
    assert section is not None
    assert section.heading.endswith("3 verdicts would differ done another way")
    [item] = section.items
    assert item.startswith("done otherwise, ") and item.endswith(": level as shown, open this way")
    assert "over titles" in item


def test_proof_of_setups_is_told() -> None:
    told = material()
    none = replace(told, runs=tuple(replace(r, proven=False) for r in told.runs))
    every = replace(told, runs=tuple(replace(r, proven=True) for r in told.runs))
    assert "unproven" not in rests_on(every) and "proven" not in rests_on(every)
    assert "proven" in rests_on(none)
