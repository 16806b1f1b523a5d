"""Conclusions about a low under its three definitions: which depend on the choice, and which are only told less far."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from invented_runs import design

from evenhand.judging.definitions import bearing, claim, low_definitions
from evenhand.judging.judge import judge
from evenhand.judging.model import Bearing, Comparison, Interval, Judgement, Row, Verdict
from evenhand.measures.catalogue import CATALOGUE

LOWS = tuple(CATALOGUE[f"low1_{d}"] for d in ("percentile", "tail_mean", "time_share"))
KEYS = tuple(m.key for m in LOWS)
M = 0.05


def found(verdict: Verdict, leaning: int = 0, margin: float = M) -> Comparison:
    around = Interval(-0.01, 0.01, 0.95)
    return Comparison("low", "t", "b", "a", 0.0, 0.01, 9.0, around, around, around, margin, verdict, leaning=leaning)


L, A, AB, B, BB, O = (  # noqa: E741
    found(v) for v in (Verdict.LEVEL, Verdict.AHEAD, Verdict.AHEAD_BEYOND, Verdict.BEHIND, Verdict.BEHIND_BEYOND, Verdict.OPEN)
)
LA, LB = found(Verdict.LEVEL, 1), found(Verdict.LEVEL, -1)


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        ((L, L, L), Bearing.SAME),
        ((BB, BB, BB), Bearing.SAME),
        ((LA, LB, L), Bearing.SAME),
        ((O, O, O), Bearing.OPEN),
        ((A, O, O), Bearing.FIRMNESS),
        ((A, AB, AB), Bearing.FIRMNESS),
        ((A, L, L), Bearing.FIRMNESS),
        ((LA, LB, O), Bearing.FIRMNESS),
        ((BB, O, L), Bearing.DEPENDS),
        ((BB, L, L), Bearing.DEPENDS),
        ((AB, LA, AB), Bearing.DEPENDS),
        ((A, B, O), Bearing.DEPENDS),
        ((LA, B, B), Bearing.DEPENDS),
        ((LB, B, B), Bearing.FIRMNESS),
        ((L, found(Verdict.UNTOLD), L), Bearing.UNSTATED),
        ((L,), Bearing.UNSTATED),
        ((), Bearing.UNSTATED),
    ],
)
def test_what_the_choice_of_definition_does(verdicts: tuple[Comparison, ...], expected: Bearing) -> None:
    for order in permutations(verdicts):
        assert bearing(order) is expected


def test_a_contradiction_is_two_claims_that_no_effect_can_bear_both() -> None:
    """Tried out on a fine grid of effects, by the words of the rule."""
    words = {
        Verdict.LEVEL: lambda x: -M < x < M,
        Verdict.AHEAD: lambda x: x > 0,
        Verdict.AHEAD_BEYOND: lambda x: x >= M,
        Verdict.BEHIND: lambda x: x < 0,
        Verdict.BEHIND_BEYOND: lambda x: x <= -M,
        Verdict.OPEN: lambda x: True,
    }
    grid = [k * M / 10 for k in range(-40, 41)]
    for one, other in product((L, A, AB, B, BB, O), repeat=2):
        both = any(words[one.verdict](x) and words[other.verdict](x) for x in grid)
        assert (bearing((one, other)) is Bearing.DEPENDS) is not both
    low, high = claim(LA)
    assert (low, high) == (0.0, M), "ahead by less than matters"


def test_margins_may_differ_between_definitions() -> None:
    """−6 % and worse, where 5 % matter, is level where 20 % do."""
    assert bearing((BB, found(Verdict.LEVEL, margin=0.2))) is Bearing.FIRMNESS
    assert bearing((BB, found(Verdict.LEVEL, margin=0.04))) is Bearing.DEPENDS


def judged(effects: dict[str, tuple[float, float, float]], noise: float = 0.004, visits: int = 3) -> Judgement:
    """B against A at each title, log effect by each definition."""
    rng = np.random.default_rng(5)
    rows = [
        Row(title, setup, v, 1, key, float(60 * np.exp(effect * (setup == "B") + rng.normal(0, noise))))
        for title, per in effects.items()
        for key, effect in zip(KEYS, per, strict=True)
        for setup in "AB"
        for v in range(1, visits + 1)
    ]
    return judge(rows, design("AB", *LOWS))


FLAT, APART = (0.0, 0.0, 0.0), (-0.2, 0.0, 0.0)


def test_each_title_and_the_mean_over_titles() -> None:
    [low] = low_definitions(judged({"harbour": APART, "night": FLAT, "quiet": (-0.2, -0.2, -0.2)}))
    told = {c.title: c.bearing for c in low.compared}
    assert (low.share, low.measures) == (0.01, KEYS)
    assert next(iter(told)) is None, "over titles first"
    assert told == {None: told[None], "harbour": Bearing.DEPENDS, "night": Bearing.SAME, "quiet": Bearing.SAME}
    [apart] = [c for c in low.of(Bearing.DEPENDS) if c.title == "harbour"]
    assert list(apart.verdicts.values()) == [Verdict.BEHIND_BEYOND, Verdict.LEVEL, Verdict.LEVEL]
    assert low.conclusions == sum(b not in (Bearing.OPEN, Bearing.UNSTATED) for b in told.values())


def test_too_few_frames_leave_a_definition_out() -> None:
    judgement = judged({"harbour": APART, "night": FLAT})
    [low] = low_definitions(judgement, {("harbour", KEYS[0]): 4})
    at = {c.title: c for c in low.compared}
    assert at["harbour"].bearing is Bearing.SAME and KEYS[0] not in at["harbour"].verdicts
    assert low.few_frames == {KEYS[0]: {"harbour": 4}}
    assert KEYS[0] in at[None].verdicts, "one title of two is too short"
    [none] = low_definitions(judgement, {(t, k): 3 for t in judgement.titles for k in KEYS})
    assert none.conclusions == 0 and {c.bearing for c in none.compared} == {Bearing.UNSTATED}


def test_one_title_has_no_mean_over_titles_and_one_visit_no_conclusion() -> None:
    [low] = low_definitions(judged({"harbour": FLAT}))
    assert [c.title for c in low.compared] == ["harbour"]
    assert low_definitions(judged({"harbour": FLAT}, visits=1)) == ()


def test_a_low_with_one_definition_is_left_out() -> None:
    judgement = judged({"harbour": FLAT})
    alone = replace(judgement, measures={KEYS[0]: judgement.measures[KEYS[0]]})
    assert low_definitions(alone) == ()
