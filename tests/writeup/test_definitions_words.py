"""Whether conclusions about a low depend on its definition, as the report and the account say it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.writeup import sample

from evenhand.judging.model import Bearing, DefinedVerdicts, LowDefinitions, Verdict
from evenhand.writeup.brief import depends
from evenhand.writeup.definitions_words import accounts, differing, in_a_line, in_short
from evenhand.writeup.material import Material
from evenhand.writeup.sections.definitions import definitions

KEYS = ("low1_percentile", "low1_tail_mean", "low1_time_share")
B, L, O, A = Verdict.BEHIND_BEYOND, Verdict.LEVEL, Verdict.OPEN, Verdict.AHEAD  # noqa: E741


def compared(title: str | None, bearing: Bearing, *verdicts: Verdict) -> DefinedVerdicts:
    return DefinedVerdicts(title, "slow-45", "fast-65", dict(zip(KEYS, verdicts, strict=False)), bearing)


SAME = compared(None, Bearing.SAME, L, L, L)
HANGS = compared("ironvale", Bearing.DEPENDS, B, L, L)
FIRMER = compared("night-ferry", Bearing.FIRMNESS, B, O, A)
NOTHING = compared("under-glass", Bearing.OPEN, O, O, O)


def low(*found: DefinedVerdicts, share: float = 0.01, **more: object) -> LowDefinitions:
    return LowDefinitions(share, KEYS, found, **({"few_frames": {}} | more))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def plain() -> Material:
    return sample.material(sample.study(), pictures=False)


def plainly(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ((low(SAME, FIRMER, NOTHING),), "No conclusion about the 1 % low depends on its definition"),
        ((low(SAME), low(SAME, share=0.001)), "No conclusion about the 1 % low or the 0.1 % low depends on its definition"),
        ((low(SAME, HANGS, FIRMER, NOTHING),), "1 of 3 conclusions about the 1 % low depends on its definition"),
        (
            (low(HANGS, HANGS), low(HANGS, SAME, share=0.001)),
            "2 of 2 conclusions about the 1 % low and 1 of 2 conclusions about the 0.1 % low depend on its definition",
        ),
        ((low(NOTHING),), "Nothing can be concluded about the 1 % low"),
        ((), ""),
        (
            (low(SAME, recommended={KEYS[0]: "a", KEYS[1]: "b"}),),
            "No conclusion about the 1 % low depends on its definition; the recommendation does",
        ),
    ],
)
def test_the_plain_statement(found: tuple[LowDefinitions, ...], said: str) -> None:
    assert plainly(in_short(found)) == said


def test_which_definition_says_what(plain: Material) -> None:
    assert plainly(differing(plain, HANGS)) == (
        "Ironvale, 5200 · 45 W: behind beyond the margin by the percentile, "
        "level by the mean of the slowest and the share of time"
    )


def test_the_account_counts_and_says_what_cannot_be_stated(plain: Material) -> None:
    few = {KEYS[2]: {"ironvale": 4, "night-ferry": 7}}
    said = [plainly(text) for text in accounts(plain, low(SAME, HANGS, FIRMER, NOTHING, few_frames=few))]
    assert said == [
        "1 % low: of 3 conclusions, 1 is the same under all definitions, 1 is told further under some than under others, without "
        "contradiction and 1 depends on the definition; 1 more comparison is open under all.",
        "The 1 % low by the share of time rests on too few frames to be stated in Ironvale and Night Ferry: "
        "as few as 4 of a visit.",
    ]
    every = {key: dict.fromkeys(plain.judgement.titles, 3) for key in KEYS}
    assert plainly(accounts(plain, low(few_frames=every))[-1]) == (
        "The 1 % low rests on too few frames to be stated at any title: as few as 3 of a visit."
    )


def test_a_recommendation_that_hangs_on_the_definition_is_told(plain: Material) -> None:
    named = dict(zip(KEYS, ("fast-65", "slow-65", "fast-65"), strict=True))
    material = replace(plain, definitions=(low(SAME, recommended=named),))
    told = (
        "The recommendation depends on the definition of the 1 % low: 6400 · 65 W by the percentile and the share of time; 5200"
    )
    assert any(plainly(item).startswith(told) for item in in_a_line(material))
    same = replace(plain, definitions=(low(SAME, recommended=dict.fromkeys(KEYS, "fast-65")),))
    assert [plainly(item) for item in in_a_line(same)] == ["No conclusion about the 1 % low depends on its definition"]


def test_the_section_lists_contradictions_before_the_fold(plain: Material) -> None:
    section = definitions(replace(plain, definitions=(low(SAME, HANGS, FIRMER, NOTHING),)))
    assert section is not None
    assert plainly(section.items[-1]).startswith("Ironvale, 5200 · 45 W: behind beyond the margin by the percentile, level by")
    (table,) = section.parts
    assert table.folded and [row[1] for row in table.tables[0].rows] == ["Ironvale", "Night Ferry"]
    assert [row[-1] for row in table.tables[0].rows] == ["contradiction", "no contradiction"]
    assert definitions(plain) is None


def test_a_definition_without_enough_frames_has_a_gap_in_the_table(plain: Material) -> None:
    section = definitions(replace(plain, definitions=(low(compared("ironvale", Bearing.DEPENDS, B, L)),)))
    assert section is not None and section.parts[0].tables[0].rows[0][-1] == "too few frames"


def test_the_terminal_has_it_among_what_the_result_depends_on(plain: Material) -> None:
    section = depends(replace(plain, definitions=(low(SAME, HANGS),)))
    assert section is not None
    said = "1 of 2 conclusions about the 1 % low depends on its definition: Ironvale, 5200 · 45 W: behind beyond the margin by"
    assert any(plainly(item).startswith(said) for item in section.items)
