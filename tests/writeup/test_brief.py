"""The short account stays short: what is the same of many scenes, measures or titles is said once."""

from __future__ import annotations

from dataclasses import replace

from tests.writeup.sample import material

from evenhand.judging.model import Disagreement, Verdict
from evenhand.screening.model import Flag, Screening, Standing, Weight
from evenhand.study.model import RunKey
from evenhand.writeup.brief import at_titles, depends, doubtful, noted, rests_on


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
    assert item.startswith("done otherwise, ") and item.endswith(": “level” becomes “open”")
    assert "over titles" in item


def test_proof_of_setups_is_told() -> None:
    told = material()
    none = replace(told, runs=tuple(replace(r, proven=False) for r in told.runs))
    every = replace(told, runs=tuple(replace(r, proven=True) for r in told.runs))
    assert "unproven" not in rests_on(every) and "proven" not in rests_on(every)
    assert "proven" in rests_on(none)


def test_what_a_cap_levels_is_told_beside_the_level() -> None:
    told = material()
    level = [c for c in told.average.comparisons if c.verdict is Verdict.LEVEL and c.against == told.study.baseline]
    keys = tuple(r.key for r in told.runs if r.key.title == level[0].title)
    flag = Flag(keys[0], "capped", Weight.NOTE, ("capped",), "Every run is held.", "", Standing.KEPT, covers=keys)
    held = replace(told, screening=replace(told.screening, flags=(flag,)))
    [item] = at_titles(held, told.average).items
    assert item == f"{told.title_label(level[0].title)}: Every run is held; “level” may be the cap's doing"
    assert not at_titles(replace(told, screening=Screening((), 8)), told.average).items


def test_a_note_about_a_scene_names_no_run() -> None:
    keys = tuple(r.key for r in material().runs if r.key.title == material().runs[0].key.title)
    flag = Flag(keys[0], "capped", Weight.NOTE, ("capped",), "Every run is held.", "", Standing.KEPT, covers=keys)
    section = noted(Screening((flag, replace(flag, check="odd-run", covers=())), len(keys)))
    assert section is not None
    assert section.items == (f"{keys[0].title}: Every run is held.", f"{keys[0]}: Every run is held.")


def test_doubtful_runs_that_were_dropped_are_only_counted() -> None:
    one, two = (r.key for r in material().runs[:2])
    flags = tuple(Flag(key, "capped", Weight.DOUBTFUL, ("capped",), "Held.", "", Standing.SET_ASIDE) for key in (one, two))
    some, every = doubtful(Screening(flags, 8), {one}), doubtful(Screening(flags, 8), {one, two})
    assert some.heading == "2 runs of 8 are doubtful; 1 of them does not count (evenhand screen lists them)"
    assert [row[0] for row in some.tables[0].rows] == [str(two)]
    assert every.heading == "2 runs of 8 are doubtful; they do not count (evenhand screen lists them)"
    assert not every.tables


def test_runs_of_a_scene_with_one_doubt_stand_in_one_row() -> None:
    def doubt(title: str, setup: str, visit: int, check: str = "first-run") -> Flag:
        run = RunKey(title, title, setup, visit, 1)
        return Flag(run, check, Weight.DOUBTFUL, (check,), f"Found {visit}.", "Play it once before.", Standing.SET_ASIDE)

    many = [doubt("ironvale", setup, visit) for setup in ("lean", "plain") for visit in (1, 2)]
    few = [doubt("night-ferry", "lean", 1), doubt("night-ferry", "plain", 1), doubt("ironvale", "lean", 1, "capped")]
    rows = doubtful(Screening((*many, *few), 20)).tables[0].rows
    assert rows[0] == (
        "ironvale, 4 runs: lean v1 r1, v2 r1; plain v1 r1, v2 r1",
        "Found 1. (lean v1 r1, and the like of the others)",
        "Play it once before.",
    )
    assert [row[0] for row in rows[1:]] == ["night-ferry lean v1 r1", "night-ferry plain v1 r1", "ironvale lean v1 r1"]
