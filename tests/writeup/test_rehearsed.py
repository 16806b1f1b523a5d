"""A rehearsal in words: what matters first, nothing that is not there, no chance rounded to certainty."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.model import (
    Alternative,
    Counted,
    Difference,
    Expected,
    Hours,
    Needed,
    NextVisits,
    OpenVerdict,
    Outlook,
    Rehearsal,
    Repetitions,
    Scheme,
    Spreads,
)
from evenhand.study.model import Costs, Scene, Setup, Study, Title
from evenhand.units import NO_BREAK
from evenhand.writeup.model import Section
from evenhand.writeup.rehearsed import account

STUDY = Study(
    "Is it quicker?",
    "plain",
    (Setup("plain", "Plain"), Setup("lean", "Lean"), Setup("full", "Full")),
    (Title("night-ferry", "Night Ferry", (Scene("deck", "Deck"),)),),
)
SCHEME = Scheme(("night-ferry",), ("plain", "lean", "full"), "plain", (1,), 3, 2, 0, None, (1.0,))
GOOD = Counted(0.95, 0.002)
OUTLOOK = Outlook(0.0296, 0.02, 0.9, 0.5, 0.7, 0.8, GOOD, Counted(0.006, 0.001), Counted(0.05, 0.002))
EXPECTED = Expected(
    CATALOGUE["average"],
    math.log1p(0.03),
    Spreads(0.006, 0.004, 0.005, 0.02, "what was supposed"),
    True,
    4.0,
    GOOD,
    OUTLOOK,
    OUTLOOK,
    Needed(4, None, 20),
)
ONE, THREE = Alternative(1, 9, 5.5, math.inf, math.inf, 0.0, 0.0), Alternative(3, 2, 6.0, 0.0296, 0.02, 0.8, 0.9)
HOURS = Hours(6.0, 6.0, 2.5, Costs(), (ONE, THREE), 1, Repetitions(2.2, 0.0))
REHEARSAL = Rehearsal(False, SCHEME, 2000, 1, (Difference(0.75, 0.0), Difference(0.25, -2.0)), (EXPECTED,), HOURS)


def sections(rehearsal: Rehearsal) -> dict[str, Section]:
    return {s.anchor: s for s in account(rehearsal, STUDY)}


def plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def test_a_plan_is_told_from_what_settles_to_what_it_rests_on() -> None:
    told = sections(REHEARSAL)
    assert list(told) == ["expect", "hours", "trust", "rests"]
    expect = told["expect"]
    assert plain(expect.heading).startswith(
        "As planned, 80 % of the verdicts at titles would settle and 80 % of those over titles"
    )
    assert "75 % no difference and 25 % 2 margins less." in plain(expect.paragraphs[0])
    assert "takes 4 visits, to call a tie level more than 20 visits." in plain(expect.paragraphs[1])
    assert tuple(map(plain, expect.tables[0].rows[0])) == ("at a title", "±3 %", "±2 %", "70 %", "50 %", "90 %", "80 %")


def test_the_hours_say_which_plan_is_best_and_that_one_visit_bears_no_verdict() -> None:
    hours = sections(REHEARSAL)["hours"]
    assert plain(hours.heading) == "In 6 h, 3 visits of 2 runs tell most: 80 % of the verdicts at titles settle, reach ±3 %"
    assert hours.tables[0].rows[0][2:] == ("no verdict", "no verdict", "none", "none")
    assert "3 runs a visit at a title, 1 run for the mean over titles" in hours.items[0]


def test_too_few_hours_are_told() -> None:
    none = replace(REHEARSAL, hours=replace(HOURS, at_hand=0.5, alternatives=(), best=None))
    least = "30 min are too few for one visit of each setup; two, the least that bears a verdict, take 2 h 30 min"
    assert sections(none)["hours"].heading == least
    one = replace(REHEARSAL, hours=replace(HOURS, alternatives=(ONE,), best=None))
    assert (
        "allow one visit of each setup, which bears no verdict; two of one run take 2 h 30 min" in sections(one)["hours"].heading
    )


def test_one_visit_has_nothing_to_be_trusted() -> None:
    never = replace(OUTLOOK, simultaneous=math.inf, pointwise=math.inf, settled=0.0)
    told = sections(replace(REHEARSAL, expected=(replace(EXPECTED, at_titles=never, over_titles=never, visit_df=0.0),)))
    assert "no verdict can be given" in told["expect"].heading and "trust" not in told
    assert told["expect"].tables[0].rows[0][1] == "no bounds"


def test_what_misses_its_promise_is_named() -> None:
    assert sections(REHEARSAL)["trust"].heading.endswith("Its intervals and verdicts keep what they promise")
    short = replace(EXPECTED, short=("false level",))
    heading = sections(replace(REHEARSAL, expected=(short,)))["trust"].heading
    assert heading.endswith("more often wrong than asked for are false level (average frame rate)")


@pytest.mark.parametrize(("share", "shown"), [(0.0, "0 %"), (0.004, "< 1 %"), (0.5, "50 %"), (0.997, "> 99 %"), (1.0, "100 %")])
def test_only_certainty_is_none_or_all(share: float, shown: str) -> None:
    told = sections(replace(REHEARSAL, expected=(replace(EXPECTED, at_titles=replace(OUTLOOK, settled=share)),)))
    assert plain(told["expect"].tables[0].rows[0][-1]) == shown


def open_verdict(title: str | None, chances: tuple[float, ...], against: str = "plain") -> OpenVerdict:
    visits = next((n for n, c in enumerate(chances, 1) if c >= 0.8), None)
    return OpenVerdict("average", title, "full", against, -0.02, chances, visits, 3)


def test_open_verdicts_are_told_by_what_settles_soonest_and_the_hopeless_counted() -> None:
    opened = (
        open_verdict(None, (0.1,) * 10),
        open_verdict("night-ferry", (0.2, 0.4, 0.5, 0.6, 0.6, 0.6, 0.6, 0.7, 0.7, 0.7), "lean"),
        open_verdict("night-ferry", (0.5, 0.85, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9)),
    )
    section = sections(replace(REHEARSAL, recorded=True, opened=opened))["open"]
    assert (
        section.heading == "3 verdicts are open; 1 would settle within 10 further visits of each setup, at four chances in five"
    )
    first, second = (tuple(map(plain, row)) for row in section.tables[0].rows)
    assert first == ("Night Ferry: Full", "−2 %", "50 %", "85 %", "90 %", "2", "3")
    assert second == ("Night Ferry: Full against Lean", "−2 %", "20 %", "40 %", "60 %", "over 10", "3")
    assert section.items == ("1 has less than even chances in 10 visits: quieter visits would settle it, not more of them",)


def test_next_visits_are_named_and_rounds_warned_of_where_they_differ_much() -> None:
    given = NextVisits("average", "full", (("plain", 0), ("lean", 1), ("full", 2)))
    section = sections(replace(REHEARSAL, recorded=True, next_visits=given))["next"]
    assert section.heading == "The best use of the next 3 visits: 1 × Lean and 2 × Full"
    assert "so far it is Full" in section.paragraphs[0] and "a whole round is the better choice" in section.paragraphs[1]
    calm = replace(EXPECTED, spreads=replace(EXPECTED.spreads, round=0.001))
    assert len(sections(replace(REHEARSAL, recorded=True, next_visits=given, expected=(calm,)))["next"].paragraphs) == 1


def test_the_noise_is_shown_with_what_it_is_known_by() -> None:
    known = replace(EXPECTED.spreads, run_df=48.0, title_df=32.0, visit_df=6.0, source="this study's own visits")
    section = sections(replace(REHEARSAL, expected=(replace(EXPECTED, spreads=known),), notes=("A note.",)))["rests"]
    assert section.heading == "The noise it rests on: this study's own visits"
    assert tuple(map(plain, section.tables[0].rows[0])) == (
        "Average frame rate", "0.6 % (48 df)", "0.4 % (32 df)", "0.5 % (6 df)", "2 %",
    )  # fmt: skip
    assert section.items == ("A note.",)
    told = sections(replace(REHEARSAL, noisier=0.62))["rests"].items
    assert plain(told[0]) == "Were all of it half as large again, 62 % of the verdicts at titles would settle."
