"""Every verdict worded whole, and the two laws of printed numbers kept in every phrase."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.writeup.sample import AVERAGE, HITCHES, LOW

from evenhand.judging.model import Comparison, Effect, Interval, OverTitles, Verdict
from evenhand.measures.model import Better, Measure, Scale
from evenhand.writeup import sentences

MARGIN = math.log(1.03)
BASE = "6400, 65 W"
NAMES = {"a": "small cores off", "b": "one thread", "c": "5200, 45 W"}


def log(percent: float) -> float:
    return math.log1p(percent / 100)


def against(
    low: float,
    high: float,
    verdict: Verdict,
    *,
    inner: tuple[float, float] | None = None,
    setup: str = "a",
    leaning: int = 0,
    tipping: float | None = None,
    settle: int | None = None,
    se: float = 0.025,
    margin: float = MARGIN,
) -> Comparison:
    whole = Interval(low, high, 0.95)
    tight = Interval(*(inner or (low, high)), 0.9)
    return Comparison(
        "average",
        "t",
        setup,
        "base",
        (low + high) / 2,
        se,
        9.0,
        whole,
        whole,
        tight,
        margin,
        verdict,
        tipping,
        settle,
        leaning=leaning,
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (against(log(9), log(15), Verdict.AHEAD_BEYOND), "ahead beyond the margin (9 to 15 %)"),
        (against(log(1), log(6), Verdict.AHEAD), "ahead, by how much is open (1 to 6 %)"),
        (against(log(-15), log(-9), Verdict.BEHIND_BEYOND), "behind beyond the margin (9 to 15 %)"),
        (against(log(-6), log(-1), Verdict.BEHIND), "behind, by how much is open (1 to 6 %)"),
        (against(log(-4), log(1), Verdict.LEVEL, inner=(log(-1.2), log(0.8)), se=0.003), "level (within 1.2 %)"),
        (
            against(log(0.2), log(2.2), Verdict.LEVEL, inner=(log(0.4), log(1.9)), leaning=1, se=0.003),
            "ahead by less than matters (0.4 to 1.9 %)",
        ),
        (
            against(log(-2.2), log(-0.2), Verdict.LEVEL, inner=(log(-1.9), log(-0.4)), leaning=-1, se=0.003),
            "behind by less than matters (0.4 to 1.9 %)",
        ),
        (against(log(-12), log(1), Verdict.OPEN), "open, but not more than 1 % ahead (up to 12 % behind)"),
        (against(log(-1), log(12), Verdict.OPEN), "open, but not more than 1 % behind (up to 12 % ahead)"),
        (against(log(-8), log(9), Verdict.OPEN), "open (8 % behind to 9 % ahead)"),
        (against(-math.inf, math.inf, Verdict.OPEN), "open: these runs set no bounds"),
        (
            against(log(-6), log(-2), Verdict.UNTOLD, tipping=log(1.4)),
            "no verdict: 4 % behind in these runs; holds unless visits differ by more than 1.4 %",
        ),
        (
            against(log(-6), log(-2), Verdict.UNTOLD, tipping=0.0),
            "no verdict: 4 % behind in these runs, no more than the runs' own spread",
        ),
        (
            against(log(-6), log(-2), Verdict.UNTOLD, tipping=log(0.02)),
            "no verdict: 4 % behind in these runs; holds unless visits differ by more than 0.02 %",
        ),
        (against(log(3), log(5), Verdict.UNTOLD), "no verdict: 4 % ahead in these runs; visit and setup cannot be told apart"),
        (against(log(2.001), log(2.004), Verdict.AHEAD, se=0.02), "ahead, by how much is open (about 2 %)"),
        (against(log(4), math.inf, Verdict.AHEAD_BEYOND), "ahead beyond the margin (at least 4 %)"),
    ],
)
def test_every_verdict_whole(found: Comparison, words: str) -> None:
    assert sentences.phrase(found, AVERAGE).replace("\u00a0", " ") == words


def test_every_verdict_has_words() -> None:
    for verdict in Verdict:
        assert sentences.word(verdict)
        assert sentences.phrase(against(log(-2), log(4), verdict), AVERAGE)
        assert sentences.short(against(log(-2), log(4), verdict), AVERAGE)


def test_better_direction_turns_words_not_numbers() -> None:
    """Fewer hitches are better: a lower count is ahead."""
    fewer = against(-3.2, -1.4, Verdict.AHEAD_BEYOND, se=0.4, margin=1.0)
    assert sentences.phrase(fewer, HITCHES) == "ahead beyond the margin (1.4 to 3.2 per minute)"
    assert sentences.change(-2.3, 0.4, HITCHES) == "−2.3 per minute"
    unsure = against(-3.2, 0.4, Verdict.OPEN, se=0.4, margin=1.0)
    assert sentences.phrase(unsure, HITCHES) == "open, but not more than 0.4 per minute behind (up to 3.2 per minute ahead)"


def test_numbers_that_would_round_onto_the_margin_get_decimals() -> None:
    """3.04 % is beyond a margin of 3 %, and is printed so."""
    found = against(log(3.04), log(9), Verdict.AHEAD_BEYOND)
    assert sentences.phrase(found, AVERAGE).replace("\u00a0", " ") == "ahead beyond the margin (3.04 to 9.00 %)"
    level = against(log(-2), log(2.96), Verdict.LEVEL, se=0.01)
    assert sentences.phrase(level, AVERAGE).replace("\u00a0", " ") == "level (within 2.96 %)"


ends = st.floats(-0.4, 0.4).filter(lambda v: abs(v) > 1e-5)


@given(ends, ends, st.floats(0.0005, 0.1), st.sampled_from([AVERAGE, LOW]))
def test_no_printed_number_crosses_the_margin_or_nought(one: float, other: float, se: float, measure: Measure) -> None:
    """The words of a verdict and the numbers beside them never contradict each other."""
    margin = math.log1p(measure.margin)
    low, high = sorted((one, other))
    verdict = decided(low, high, margin)
    text = sentences.phrase(against(low, high, verdict, se=se, margin=margin, leaning=0), measure).replace("−", "-")
    numbers = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)]
    up, down = 100 * measure.margin, -100 * math.expm1(-margin)
    match verdict:
        case Verdict.AHEAD_BEYOND:
            assert min(numbers) >= up - 1e-9
        case Verdict.BEHIND_BEYOND:
            assert min(numbers) >= down - 1e-5
        case Verdict.AHEAD | Verdict.BEHIND:
            assert min(numbers) > 0
            assert min(numbers) < up
        case Verdict.LEVEL:
            assert max(numbers) < up
        case _:
            assert "open" in text


def decided(low: float, high: float, margin: float) -> Verdict:
    if -margin < low and high < margin:
        return Verdict.LEVEL
    if low > 0:
        return Verdict.AHEAD_BEYOND if low >= margin else Verdict.AHEAD
    if high < 0:
        return Verdict.BEHIND_BEYOND if high <= -margin else Verdict.BEHIND
    return Verdict.OPEN


@given(st.floats(1e-6, 0.3), st.floats(0.0001, 0.3))
def test_decimals_follow_the_standard_error(value: float, se: float) -> None:
    """At most two significant digits of the error (JCGM 100:2008, 7.2.6), more only to keep off zero."""
    printed = sentences.change(value, se, AVERAGE).replace("\u00a0%", "")
    decimals = len(printed.partition(".")[2])
    first = math.floor(math.log10(100 * se))
    assert decimals <= max(1 - first, 0) or float(printed) < 10.0**-decimals * 10


def test_several_setups_in_one_sentence() -> None:
    found = [
        against(log(-15), log(-9), Verdict.BEHIND_BEYOND, setup="c"),
        against(log(-1), log(1), Verdict.LEVEL, setup="a"),
        against(log(-1), log(2), Verdict.LEVEL, setup="b"),
    ]
    assert sentences.clauses(found, NAMES, BASE, AVERAGE).replace("\u00a0", " ") == (
        "5200, 45 W (9 to 15 %) is behind 6400, 65 W beyond the margin; small cores off (within 1 %) and one thread (within 2 %) "
        "are level with it"
    )
    assert sentences.headline(found, NAMES, BASE) == (
        "5200, 45 W is behind 6400, 65 W beyond the margin; small cores off and one thread are level with it"
    )
    assert sentences.headline(found[1:], NAMES, BASE) == "all setups are level with 6400, 65 W"
    assert sentences.headline([], NAMES, BASE) == "nothing could be compared with 6400, 65 W"
    untold = [against(0.0, 0.1, Verdict.UNTOLD, setup=s) for s in "ab"]
    assert sentences.headline(untold, NAMES, BASE) == "one visit a setup bears no verdict against 6400, 65 W"
    unsure = [against(-0.1, 0.1, Verdict.OPEN, setup=s) for s in "ab"]
    assert sentences.headline(unsure, NAMES, BASE) == "against 6400, 65 W nothing is settled yet"


def test_counts_of_titles() -> None:
    titles, setups = {"t": "Moss & Ember", "u": "Night Ferry"}, {"one": "one thread", "two": "two threads"}
    first = replace(against(log(-15), log(-9), Verdict.BEHIND_BEYOND), setup="one")
    second = replace(against(log(-25), log(-19), Verdict.BEHIND_BEYOND), setup="two", title="u")
    rest = [against(log(-6), log(-1), Verdict.BEHIND), against(log(-1), log(1), Verdict.LEVEL)]

    def said(found: list[Comparison], verdict: Verdict = Verdict.BEHIND_BEYOND) -> str:
        return sentences.counts(found, verdict, setups, titles, AVERAGE).replace("\u00a0", " ")

    assert said([first, *rest]) == "1 is behind beyond the margin under one thread (Moss & Ember, 9 to 15 %)"
    assert said([first, second, *rest]) == (
        "1 is behind beyond the margin under one thread and 1 under two threads "
        "(farthest: Night Ferry under two threads, 19 to 25 %)"
    )
    assert said(rest) == ""
    assert said([first], Verdict.AHEAD_BEYOND) == ""


def effect(low: float, high: float, verdict: Verdict, factors: tuple[str, ...] = ("memory",)) -> Effect:
    levels = tuple(("6400", "5200") for _ in factors)
    return Effect("average", "t", factors, levels, (low + high) / 2, 0.004, 9.0, Interval(low, high, 0.95), MARGIN, verdict)


def test_effects_are_said_with_sign_and_bearing() -> None:
    found = effect(log(4), log(10), Verdict.AHEAD_BEYOND)
    assert sentences.effect(found, "6400 instead of 5200", AVERAGE).replace("\u00a0", " ") == (
        "6400 instead of 5200: +7.0 % (+4.0 to +10.0 %), beyond the margin"
    )
    main = [found, effect(log(1), log(7), Verdict.AHEAD)]
    joint = ("memory", "power")
    assert sentences.together(main, effect(log(-8), log(-1), Verdict.BEHIND, joint)) == (
        "Each makes up for the other's absence; having both brings less than the sum."
    )
    assert sentences.together(main, effect(log(4), log(8), Verdict.AHEAD_BEYOND, joint)) == (
        "They need each other: both bring more than the sum of each alone."
    )
    assert sentences.together(main, effect(log(-4), log(8), Verdict.OPEN, joint)) == "Whether they need each other is open."
    assert sentences.together([], effect(log(-1), log(1), Verdict.LEVEL, joint)).startswith("Neither depends")


def test_what_would_settle_it() -> None:
    one = against(-0.1, 0.1, Verdict.OPEN, settle=3)
    assert sentences.settling(one) == "about 3 more visits a setup would be expected to settle it"
    many = [one, against(-0.1, 0.1, Verdict.OPEN, settle=1), against(-0.1, 0.1, Verdict.OPEN, settle=9)]
    assert sentences.settling(many) == "about 3 more visits a setup would be expected to settle half of them"
    assert sentences.settling(against(-0.1, 0.1, Verdict.OPEN)) == ""


def test_margins_as_people_set_them() -> None:
    assert sentences.margin_words(AVERAGE, math.log1p(0.03)).replace("\u00a0", " ") == "3 %"
    assert sentences.margin_words(LOW, math.log1p(0.025)).replace("\u00a0", " ") == "2.5 %"
    assert sentences.margin_words(HITCHES, 1.0) == "1 per minute"


def test_over_titles_rests_on_these_titles() -> None:
    these, like = Interval(log(1), log(6), 0.95), Interval(log(-2), log(9), 0.95)
    found = OverTitles(
        "average", "a", "base", log(3), 0.025, 9, these, these, 0.02, 5, like, 0.01, like, MARGIN, Verdict.AHEAD, 9, 1, 1, 1, 1, 0
    )
    assert sentences.phrase(found, AVERAGE).replace("\u00a0", " ") == "ahead, by how much is open (1 to 6 %)"
    assert HITCHES.better is Better.LOWER
    assert HITCHES.scale is Scale.DIFFERENCE
