"""What choices of titles say over titles, against the judgement itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_runs import RATE, SHARE, design, study

from evenhand.judging.advice.subsets import Field, field_of, halves_over, only_visits, verdicts_over
from evenhand.judging.analysis import analyse
from evenhand.judging.decide import VERDICTS, decide, verdict_codes
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Interval, Row
from evenhand.judging.pairs import pairs_of
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better


def field(rows: list[Row], asked: Design) -> Field:
    visits = visit_means(read_runs(rows, asked), asked.measures[0], asked)
    return field_of(analyse(visits, asked, judge(rows, asked).measures[asked.measures[0].key].rounds_used))


def lacking(rows: list[Row]) -> list[Row]:
    """Without one visit of one cell, and without a whole cell."""
    gone = {("title 1", "B", 2), *(("title 3", "C", v) for v in (1, 2, 3))}
    return [r for r in rows if (r.title, r.setup, r.visit) not in gone]


@pytest.mark.parametrize("incomplete", [False, True])
@pytest.mark.parametrize("weights", [{}, {"title 0": 3.0, "title 4": 0.5}])
def test_all_titles_give_what_the_judgement_says(incomplete: bool, weights: dict[str, float]) -> None:
    rows = lacking(study()) if incomplete else study()
    asked = design(weights=weights)
    found, over = field(rows, asked), judge(rows, asked).measures["rate"].over
    every = np.ones((1, 6), dtype=bool)
    said = found.over(every)[0]
    for p, (setup, against) in enumerate(pairs_of(asked)):
        own = next(o for o in over if (o.setup, o.against) == (asked.setups[setup], asked.setups[against]))
        halves = halves_over(found, every, p)
        assert said[p] == pytest.approx(own.estimate, abs=1e-12)
        assert halves.these[0] == pytest.approx((own.these.high - own.these.low) / 2, rel=1e-9)
        assert halves.inner[0] == pytest.approx((own.inner.high - own.inner.low) / 2, rel=1e-9)
        assert VERDICTS[verdicts_over(found, said[[p]], halves)[0]] is own.verdict


def test_fewer_titles_are_estimated_as_if_the_others_had_not_been_there() -> None:
    rows, asked = study(seed=4), design()
    chosen = np.array([[True, False, True, True, False, True]])
    without = judge([r for r in rows if r.title not in ("title 1", "title 4")], asked).measures["rate"].over
    said = field(rows, asked).over(chosen)[0]
    for p, (setup, against) in enumerate(pairs_of(asked)):
        own = next(o for o in without if (o.setup, o.against) == (asked.setups[setup], asked.setups[against]))
        assert said[p] == pytest.approx(own.estimate, abs=1e-12)


def test_a_choice_that_has_no_title_with_the_pair_says_nothing() -> None:
    rows, asked = lacking(study()), design()
    only = np.zeros((1, 6), dtype=bool)
    only[0, 3] = True
    found = field(rows, asked)
    for p, pair in enumerate(pairs_of(asked)):
        assert np.isnan(found.over(only)[0, p]) == (2 in pair)
        assert np.isinf(halves_over(found, only, p).these[0]) == (2 in pair)


def test_some_visits_alone_are_estimated_from_those_alone() -> None:
    rows, asked = study(seed=7), design()
    visits = visit_means(read_runs(rows, asked), RATE, asked)
    part = field_of(only_visits(analyse(visits, asked, False), np.array([True, False, True])))
    expected = field([r for r in rows if r.visit != 2], asked)
    assert part.estimate == pytest.approx(expected.estimate, abs=1e-12)


@given(
    st.floats(-10, 10),
    st.floats(0, 10),
    st.floats(0, 1),
    st.floats(0, 5),
    st.sampled_from(Better),
)
def test_many_verdicts_at_once_follow_the_same_rules(e: float, half: float, share: float, margin: float, better: Better) -> None:
    inner = half * share
    one = decide(Interval(e - half, e + half, 0.95), Interval(e - inner, e + inner, 0.9), margin, better)
    codes = verdict_codes(np.array([e]), np.array([half]), np.array([inner]), margin, better)
    assert VERDICTS[codes[0]] is one


def test_a_difference_scale_and_its_direction_pass_through() -> None:
    rows = study(measure="share", effects=(0.0, 0.2))
    asked = design("AB", SHARE)
    found, over = field(rows, asked), judge(rows, asked).measures["share"].over[0]
    every = np.ones((1, 6), dtype=bool)
    assert VERDICTS[verdicts_over(found, found.over(every)[:, 0], halves_over(found, every, 0))[0]] is over.verdict
