"""What hangs on titles, and which to keep, in sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.writeup import sample

from evenhand.judging.model import (
    GroupAnswer,
    OnVisits,
    OverDependence,
    Response,
    SetupDependence,
    Thinned,
    Thinning,
    TitleDependence,
    Turn,
    Verdict,
)
from evenhand.writeup.dependence_words import (
    dependence_heading,
    dependence_line,
    dependence_row,
    dependence_sentence,
    firm_sentence,
    recommendation_sentence,
)
from evenhand.writeup.material import Material
from evenhand.writeup.sections.dependence import dependence
from evenhand.writeup.sections.thinning import thinned, thinning
from evenhand.writeup.thinning_words import thinning_heading, thinning_lead, thinning_sentence, thinning_table

NONE = Turn((), "", 0, 3, 6)
FERRY = Turn(("night-ferry",), "open", 1, 0, 6)


@pytest.fixture(scope="module")
def material() -> Material:
    return sample.material(sample.study(), pictures=False)


def over(turn: Turn, setup: str = "fast-45", verdict: Verdict = Verdict.LEVEL) -> OverDependence:
    alone = turn.titles if len(turn.titles) == 1 else ()
    return OverDependence("average", setup, "fast-65", -0.01, verdict, "ironvale", -0.004, alone, turn, 0.93)


def named(turn: Turn, *by_group: GroupAnswer) -> SetupDependence:
    alone = turn.titles if len(turn.titles) == 1 else ()
    return SetupDependence("fast-65", alone, turn, (("fast-65", 0.9), ("fast-45", 0.1)), by_group)


def found(*verdicts: OverDependence, setup: SetupDependence | None = None) -> TitleDependence:
    return TitleDependence(verdicts, setup, 400)


def heading(material: Material, *verdicts: OverDependence, setup: SetupDependence | None = None) -> str:
    return dependence_heading(material, found(*verdicts, setup=setup)).replace("\u00a0", " ")


def test_the_heading_says_how_many_titles_it_takes(material: Material) -> None:
    two = Turn(("ironvale", "quiet-orbit", "night-ferry"), "open", 2, 2, 6)
    assert heading(material, over(NONE), over(two)) == "Leaving out any two titles changes no verdict over titles"
    assert heading(material, over(NONE), setup=named(NONE)) == (
        "Leaving out any three titles changes neither the recommendation nor a verdict over titles"
    )
    assert heading(material, setup=named(NONE)) == "Leaving out any three titles does not change the recommendation"
    assert heading(material, over(Turn((), "", 0, 0, 0))) == "There are too few titles to leave one out"


def test_the_heading_names_the_title_that_bears_it(material: Material) -> None:
    one = over(FERRY)
    assert heading(material, one, over(NONE)) == (
        "The verdict on 6400 · 45 W in the average frame rate hangs on one title: Night Ferry"
    )
    assert heading(material, one, over(FERRY, "slow-45"), setup=named(NONE)) == (
        "2 of 2 verdicts over titles hang on one title: Night Ferry; the recommendation does not"
    )
    assert heading(material, one, over(Turn(("ironvale",), "open", 1, 0, 6))) == (
        "2 of 2 verdicts over titles hang on a single title"
    )
    turned = named(replace(FERRY, to="fast-45"))
    assert heading(material, one, setup=turned) == "Without Night Ferry the recommendation would be 6400 · 45 W"
    many = replace(turned, turns=("night-ferry", "ironvale"))
    assert heading(material, setup=many) == "The recommendation hangs on any of 2 titles"


@pytest.mark.parametrize(
    ("turn", "said"),
    [
        (NONE, "leaving out any three titles changes nothing; nor does any larger set that was tried, up to 6 titles"),
        (Turn((), "", 0, 2, 2), "leaving out any two titles changes nothing"),
        (Turn((), "", 0, 0, 0), "too few titles to leave one out"),
        (FERRY, "without Night Ferry it would be open"),
        (replace(FERRY, ways=3), "without Night Ferry (or 2 other titles) it would be open"),
        (
            Turn(("ironvale", "night-ferry"), "level", 5, 1, 6),
            "leaving out any one title changes nothing; without Ironvale and Night Ferry (or 4 other sets of 2) it would be "
            "level",
        ),
        (
            Turn(("ironvale", "night-ferry", "quiet-orbit", "paper-armada", "under-glass"), "behind", 0, 3, 6),
            "leaving out any three titles changes nothing; without 5 of the titles that bear it most, perhaps fewer, it would be "
            "behind, by how much is open",
        ),
    ],
)
def test_each_verdict_tells_what_turns_it(material: Material, turn: Turn, said: str) -> None:
    sentence = dependence_sentence(material, over(turn)).replace("\u00a0", " ")
    assert sentence == f"6400 · 45 W, average frame rate, level: {said}"


def test_the_rest_is_told_in_one_sentence() -> None:
    assert firm_sentence((over(FERRY), over(NONE), over(NONE))) == (
        "The other 2 verdicts hold whichever three titles are left out."
    )
    assert firm_sentence((over(FERRY), over(Turn(("a", "b", "c"), "open", 0, 1, 6)))) == (
        "The other verdict holds whichever one title is left out."
    )
    assert firm_sentence((over(NONE),)) == "" == firm_sentence((over(FERRY),))


def test_the_recommendation_tells_how_often_it_stays_and_who_would_be_told_otherwise(material: Material) -> None:
    apart = GroupAnswer(Response.SETUPS, ("ironvale", "night-ferry"), "fast-45")
    alike = GroupAnswer(Response.LEVEL, ("quiet-orbit",), "fast-65")
    said = recommendation_sentence(material, found(setup=named(replace(FERRY, to="slow-65"), apart, alike)))
    assert said.replace("\u00a0", " ") == (
        "Recommended, 6400 · 65 W: without Night Ferry it would be 5200 · 65 W; 90 % of 400 studies with titles drawn from these "
        "name it too. For Ironvale and Night Ferry alone it would be 6400 · 45 W."
    )
    assert recommendation_sentence(material, found()) == ""


def test_what_is_open_hangs_on_more_than_titles(material: Material) -> None:
    only_open = replace(material, dependence=found(over(FERRY, verdict=Verdict.OPEN)))
    assert dependence(only_open) is None and dependence_line(only_open) == ()
    assert dependence(replace(material, dependence=None)) is None


def test_the_section_shows_the_loose_and_folds_the_rest(material: Material) -> None:
    told = replace(material, dependence=found(over(FERRY), over(NONE, "slow-45"), setup=named(NONE)))
    section = dependence(told)
    assert section is not None
    assert len(section.items) == 3 and section.parts[0].folded
    assert section.parts[0].tables[0].rows == tuple(dependence_row(told, o) for o in told.dependence.over)  # type: ignore[union-attr]
    assert dependence_line(told) == (f"{section.heading}.",)


VISITS = OnVisits(0.2, 0.95, 1.0, 0.8, 0.5, 0.8, 0.9, 0.97)


def thinning_of(*choices: Thinned, visits: int = 3) -> Thinning:
    titles = tuple(t.name for t in sample.study().titles)
    return Thinning(("average",), titles, choices, visits, 12)


def kept(count: int, on_visits: OnVisits | None = VISITS, groups: int = 0, wider: float | None = 1.2) -> Thinned:
    return Thinned(tuple(t.name for t in sample.study().titles)[:count], True, 0.3, wider, groups, on_visits, None)


def test_the_heading_names_the_smallest_that_stands_for_all() -> None:
    poor = replace(VISITS, error=0.9)
    assert thinning_heading(thinning_of(kept(3, poor), kept(5), kept(6))) == (
        f"5 of the {len(sample.TITLES)} titles say nearly the same as all of them on visits left out"
    )
    assert thinning_heading(thinning_of(kept(3, replace(VISITS, verdicts=0.7)))).startswith("No choice of 3 titles or fewer")
    assert thinning_heading(thinning_of()) == "There are too few titles to choose from"
    once = thinning_of(kept(3, None, wider=None), visits=0)
    assert thinning_heading(once).endswith("cannot be tested: it takes a second visit of each setup")
    assert "With one visit a setup the choice cannot be tested" in thinning_lead(once)


def test_a_choice_says_whether_it_buys_anything(material: Material) -> None:
    assert thinning_sentence(material, kept(2)).replace("\u00a0", " ") == (
        "2: Harbour Lights and Ironvale. It errs less than 97 % of random choices as large."
    )
    little = thinning_sentence(material, kept(2, replace(VISITS, better_than=0.6), groups=2))
    assert little.replace("\u00a0", " ") == (
        "2: Harbour Lights and Ironvale; 2 ways in which titles respond are not among them. It errs less than 60 % of random "
        "choices as large: choosing buys little."
    )
    assert thinning_sentence(material, kept(2, None)) == "2: Harbour Lights and Ironvale."


def test_the_table_has_the_time_saved_where_minutes_are_given(material: Material) -> None:
    section = thinned(material, thinning_of(kept(3), kept(5)), minutes=5.0)
    head, rows = section.tables[0].head, section.tables[0].rows
    assert head[-1] == "time saved" and len({len(r) for r in rows} | {len(head)}) == 1
    assert rows[0][-1] == f"{len(sample.TITLES) - 3} h", "a title takes 12 visits of 5 minutes"
    plain = thinning_table((kept(3, None, wider=None),))
    assert [c.replace("\u00a0", " ") for c in plain.rows[0]] == ["3 titles", "0.30 expected", "–", "–", "–", "–", "–"]


def test_the_report_folds_the_choices(material: Material) -> None:
    section = thinning(replace(material, thinning=thinning_of(kept(3))))
    assert section is not None and section.parts[0].folded and section.parts[0].tables
    assert thinning(material) is None and thinning(replace(material, thinning=thinning_of())) is None
