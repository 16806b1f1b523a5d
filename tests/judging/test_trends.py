"""Factors with numeric levels: what the curve says, where it ends to pay, and where nothing can be said."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from invented_runs import RATE, WAIT

from evenhand.judging.judge import judge
from evenhand.judging.knee import knee
from evenhand.judging.model import Design, Row, Verdict
from evenhand.judging.trends import monotone_band

SPEEDS = {"5200": 5200.0, "6000": 6000.0, "6400": 6400.0}


def table(gains, titles=6, visits=3, noise=0.005, seed=1, measure="rate", powers=("45", "65"), sign=1.0):
    """Memory × power; gains : log gain of each speed."""
    rng = np.random.default_rng(seed)
    return [
        Row(f"title {t}", f"{m}-{p}", v + 1, r, measure, float(80 * math.exp(sign * g + 0.02 * k + rng.normal(0, noise))))
        for t in range(titles)
        for (m, g), (k, p) in product(zip(SPEEDS, gains, strict=True), enumerate(powers))
        for v in range(visits)
        for r in (1, 2)
    ]


def memory(setups=None, order=("5200", "6000", "6400"), measure=RATE, values=SPEEDS):
    names = setups or tuple(f"{m}-{p}" for m in order for p in ("45", "65"))
    return Design(
        names,
        names[0],
        (measure,),
        levels={n: dict(zip(("memory", "power"), n.split("-"), strict=True)) for n in names},
        factors={"memory": tuple(order), "power": ("45", "65")},
        values={"memory": values, "power": {"45": 45.0, "65": 65.0}},
    )


def over(judgement, key="rate"):
    (found,) = [t for t in judgement.measures[key].trends if t.title is None]
    return found


def ends(found):
    return found.knee.at_least, found.knee.enough


def test_what_pays_up_to_a_level_and_nothing_more_beyond_it():
    found = over(judge(table((0.0, 0.05, 0.051)), memory()))
    assert [s.verdict for s in found.steps] == [Verdict.AHEAD_BEYOND, Verdict.LEVEL]
    assert ends(found) == ("6000", "6000") and found.knee.told
    assert found.knee.gain.estimate == found.steps[0].estimate and found.knee.gain.interval == found.steps[0].interval
    assert found.direction == 1 and found.bend.interval.low > 0
    assert [p.level for p in found.points] == list(SPEEDS)
    assert found.points[0].estimate == found.points[0].low == found.points[0].high == 0.0
    assert all(p.low <= p.fitted <= p.high for p in found.points)


def test_a_rise_without_end():
    """Every level is beaten beyond the margin by the highest; the highest is always enough, as there is none above it."""
    found = over(judge(table((0.0, 0.06, 0.12)), memory()))
    assert ends(found) == ("6400", "6400")


def test_level_everywhere_ends_to_pay_at_the_lowest():
    found = over(judge(table((0.0, 0.0, 0.0)), memory()))
    assert ends(found) == ("5200", "5200") and found.knee.gain is None and found.direction == 0
    assert [p.fitted for p in found.points] == [p.estimate for p in found.points]


def test_what_cannot_be_told_is_left_between_two_levels():
    """A true gain near the margin of 3 % on noisy runs."""
    found = over(judge(table((0.0, 0.03, 0.03), noise=0.06, titles=2), memory()))
    assert not found.knee.told
    assert (found.knee.at_least, found.knee.enough) in {("5200", "6000"), ("5200", "6400")}


def test_less_is_better_and_the_first_level_need_not_be_the_lowest():
    rows = table((0.0, 0.05, 0.051), measure="wait", sign=-1.0)
    found = over(judge(rows, memory(order=("6400", "5200", "6000"), measure=WAIT)), "wait")
    assert [p.level for p in found.points] == list(SPEEDS)
    assert found.reference == "6400" and found.points[2].estimate == 0.0 and found.points[0].estimate > 0.04
    assert found.direction == -1 and ends(found) == ("6000", "6000")
    assert [s.verdict for s in found.steps] == [Verdict.AHEAD_BEYOND, Verdict.LEVEL]


def test_a_curve_that_clearly_turns_keeps_its_shape():
    found = over(judge(table((0.0, 0.10, 0.05)), memory()))
    assert found.direction == 0
    assert [p.fitted for p in found.points] == [p.estimate for p in found.points]
    assert ends(found) == ("6000", "6000")


def test_two_levels_have_no_curve_and_words_have_no_place_on_it():
    judged = judge(table((0.0, 0.05, 0.051)), memory())
    assert {t.factor for t in judged.measures["rate"].trends} == {"memory"}
    bare = memory(values={"5200": 5200.0})
    assert judge(table((0.0, 0.05, 0.051)), bare).measures["rate"].trends == ()


def test_one_visit_draws_no_knee():
    found = over(judge(table((0.0, 0.05, 0.051), visits=1), memory()))
    assert found.knee is None and math.isinf(found.points[1].high) and found.points[1].estimate == pytest.approx(0.05, abs=0.01)
    assert {s.verdict for s in found.steps} == {Verdict.UNTOLD}


def test_a_list_without_common_combinations_goes_by_the_additive_model():
    setups = ("5200-45", "6000-45", "6000-65", "6400-65")
    rows = [r for r in table((0.0, 0.05, 0.051)) if r.setup in setups]
    judged = judge(rows, memory(setups))
    found = over(judged)
    assert found.additive and found.points[2].estimate == pytest.approx(0.051, abs=0.01)
    assert any("memory 6400" in note and "as if factors did not need each other" in note for note in judged.notes)


def test_levels_that_always_changed_together_are_named():
    setups = ("5200-45", "6000-65")
    judged = judge([r for r in table((0.0, 0.05, 0.051)) if r.setup in setups], memory(setups))
    assert judged.measures["rate"].effects == ()
    assert any("memory cannot be told from that of power, because they always changed together" in n for n in judged.notes)


def test_the_rule_of_the_knee():
    """Gains of four levels, half-widths all alike; margin 3."""

    def of(levels, together, inner):
        at = np.array(levels)
        size = np.ones((at.size, at.size))
        return knee(at[None, :] - at[:, None], together * size, inner * size, 3.0)

    assert of([0, 5, 9, 9.5], 1.0, 0.5) == (2, 2)
    assert of([0, 5, 9, 9.5], 1.0, 3.0) == (2, 3)
    assert of([0, 5, 9, 9.5], 7.0, 3.0) == (0, 3)
    assert of([9, 5, 2, 0], 1.0, 0.5) == (0, 0)
    assert of([5, 0, 5, 5], 1.0, 0.5) == (2, 2), "a level below a gap is not enough: what lies above it in between is worse"


def test_a_band_of_a_truth_that_never_turns():
    low, high = np.array([-1.0, 2.0, 1.0]), np.array([3.0, 6.0, 4.0])
    assert [list(end) for end in monotone_band(low, high, 1)] == [[-1.0, 2.0, 2.0], [3.0, 4.0, 4.0]]
    assert [list(end) for end in monotone_band(low[::-1], high[::-1], -1)] == [[2.0, 2.0, -1.0], [4.0, 4.0, 3.0]]
    crossed = monotone_band(np.array([0.0, 5.0, 1.0]), np.array([1.0, 6.0, 2.0]), 1)
    assert (crossed[0] > crossed[1]).any()
