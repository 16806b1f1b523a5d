"""Studies as they happen: one visit, missing cells, unlike numbers of visits, ties, scenes, zeros."""

import math
from dataclasses import replace

import numpy as np
import pytest
from invented_runs import RATE, design, square, study
from scipy import stats

from evenhand.judging.judge import judge
from evenhand.judging.model import Row, Verdict


def without(rows, **where):
    return [r for r in rows if any(getattr(r, name) != value for name, value in where.items())]


def test_one_visit_gives_no_verdict_but_the_tipping_point():
    rows = study(titles=3, effects=(0.0, 0.06), visits=1, runs=3, noise=0.01)
    judged = judge(rows, design("AB"))
    assert judged.one_visit
    found = judged.measures["rate"].comparisons[0]
    assert found.verdict is Verdict.UNTOLD and found.visits_to_settle is None and found.p_value is None
    assert math.isinf(found.pointwise.high) and found.df == 0
    values = {s: np.log([r.value for r in rows if (r.title, r.setup) == ("title 0", s)]) for s in "AB"}
    pooled = np.mean(
        [
            np.var(np.log([r.value for r in rows if (r.title, r.setup) == (f"title {t}", s)]), ddof=1)
            for t in range(3)
            for s in "AB"
        ]
    )
    estimate = values["B"].mean() - values["A"].mean()
    assert found.estimate == pytest.approx(estimate)
    sigma = found.tipping
    assert abs(estimate) == pytest.approx(stats.norm.ppf(0.975) * math.sqrt(2 * sigma**2 + 2 * pooled / 3))
    over = judged.measures["rate"].over[0]
    assert over.verdict is Verdict.UNTOLD and over.titles_untold == 3 and over.like is None
    assert judged.measures["rate"].cells[0].interval_high == math.inf
    assert any("cannot be told apart" in note for note in judged.notes)


def test_titles_split_over_visits_are_one_visit_too():
    """Each title in a visit of its own: what is the visit's and what is the title's cannot be told."""
    rows = [replace(r, visit=1 + int(r.title[-1])) for r in study(titles=3, effects=(0.0, 0.06), visits=1)]
    judged = judge(rows, design("AB"))
    assert judged.one_visit and judged.measures["rate"].comparisons[0].verdict is Verdict.UNTOLD


def test_a_setup_with_one_visit_is_judged_by_the_noise_of_the_others_and_says_so():
    rows = [r for r in study(effects=(0.0, 0.05, 0.1), visits=3) if not (r.setup == "C" and r.visit > 1)]
    judged = judge(rows, design("ABC"))
    assert not judged.one_visit
    at = {(c.setup, c.against): c for c in judged.measures["rate"].comparisons if c.title == "title 0"}
    assert at["C", "A"].se > at["B", "A"].se
    assert any("C has one visit" in d for d in at["C", "A"].doubts)
    assert not any("one visit" in d for d in at["B", "A"].doubts)


def test_a_missing_visit_is_made_up_for_by_the_other_titles():
    """Visit 3 of B ran 20 % fast for every title; the title that lacks it must not look 7 % slow for it."""
    rows = study(titles=8, effects=(0.0, 0.0), noise=0.002, shift=0.0)
    rows = [replace(r, value=r.value * (1.2 if (r.setup, r.visit) == ("B", 3) else 1)) for r in rows]
    judged = judge(without(rows, title="title 0", setup="B", visit=3), design("AB")).measures["rate"]
    estimates = [c.estimate for c in judged.comparisons]
    assert estimates == pytest.approx([math.log(1.2) / 3] * 8, abs=0.01)
    assert judged.comparisons[0].se >= judged.comparisons[1].se


def test_a_missing_visit_does_not_let_a_round_pass_for_a_setup():
    """Round 3 ran 20 % fast for both setups."""
    rows = study(titles=8, effects=(0.0, 0.0), noise=0.002, shift=0.0)
    rows = [replace(r, value=r.value * (1.2 if r.visit == 3 else 1)) for r in rows]
    judged = judge(without(rows, title="title 0", setup="B", visit=3), design("AB")).measures["rate"]
    assert [c.estimate for c in judged.comparisons] == pytest.approx([0.0] * 8, abs=0.01)


def test_a_title_that_lacks_a_setup_keeps_its_other_comparisons():
    judged = judge(without(study(), title="title 2", setup="C"), design(**square()))
    rate = judged.measures["rate"]
    assert {(c.setup, c.against) for c in rate.comparisons if c.title == "title 2"} == {("B", "A"), ("D", "A"), ("D", "B")}
    assert {o.titles for o in rate.over if "C" in (o.setup, o.against)} == {5}
    assert not any(e.title == "title 2" for e in rate.effects)
    assert any("title 2: nothing under C" in note for note in judged.notes)


def test_unlike_numbers_of_visits_rule_out_rounds_and_widen_the_shorter():
    rows = [r for r in study(effects=(0.0, 0.0, 0.0), visits=4) if not (r.setup == "C" and r.visit > 2)]
    judged = judge(rows, design("ABC"))
    assert judged.other_rounds is None and not judged.measures["rate"].rounds_used
    at = {(c.setup, c.against): c for c in judged.measures["rate"].comparisons if c.title == "title 1"}
    assert at["C", "A"].se == pytest.approx(at["B", "A"].se * math.sqrt((1 / 4 + 1 / 2) / (1 / 4 + 1 / 4)), rel=1e-6)


def test_one_title_stands_on_its_visits_alone():
    judged = judge(study(titles=1, runs=2, visits=2), design()).measures["rate"]
    assert judged.comparisons[0].df == pytest.approx(3)
    assert judged.noise.title == {} and judged.noise.shift is not None
    assert judged.over[0].like is None and judged.over[0].tau is None
    assert judged.over[0].these.low == pytest.approx(judged.comparisons[0].simultaneous.low, rel=1e-9)


def test_two_titles_share_one_own_noise():
    noise = judge(study(titles=2), design()).measures["rate"].noise
    moderated = list(noise.title_moderated.values())
    assert moderated[0] == pytest.approx(moderated[1])
    assert math.isinf(noise.prior_df)


def test_visits_that_agree_to_the_last_digit():
    rows = [Row(t, s, v, 1, "rate", 60.0) for t in ("Ironvale", "Saltmarsh Rally") for s in "AB" for v in (1, 2)]
    found = judge(rows, design("AB")).measures["rate"].comparisons[0]
    assert found.verdict is Verdict.LEVEL and found.se == 0
    assert any("last digit" in d for d in found.doubts)


def test_zero_and_not_a_number_have_no_logarithm():
    rows = study(titles=2)
    rows[0] = replace(rows[0], value=0.0)
    rows[5] = replace(rows[5], value=float("nan"))
    judged = judge(rows, design())
    assert judged.notes[0].startswith("Average: 2 values of title 0 left out")
    assert judged.measures["rate"].cells[0].runs == 4


def test_a_measure_without_values_is_left_out_with_a_note():
    wait = replace(RATE, key="wait", label="Waiting")
    judged = judge(study(), design("ABCD", RATE, wait))
    assert list(judged.measures) == ["rate"]
    assert "Waiting: no value that could be judged." in judged.notes


def test_a_title_is_one_vote_however_many_scenes_it_has():
    rows = study(titles=2, effects=(0.0, 0.0), noise=0.001, shift=0.001, scene="a")
    extra = [
        replace(r, scene=s, value=r.value * (1.3 if r.setup == "B" else 1)) for s in "bc" for r in rows if r.title == "title 1"
    ]
    judged = judge(rows + extra, design("AB")).measures["rate"]
    assert judged.over[0].titles == 2
    assert judged.comparisons[1].estimate == pytest.approx(2 / 3 * math.log(1.3), abs=0.003)
    assert judged.over[0].estimate == pytest.approx(math.log(1.3) / 3, abs=0.003)
    assert judged.cells[2].runs == 18


def test_a_slow_scene_that_is_missing_from_a_visit_does_not_pass_for_a_fast_visit():
    rows = study(titles=3, effects=(0.0, 0.0), noise=0.001, shift=0.001, scene="fast")
    rows += [replace(r, scene="slow", value=r.value / 3) for r in rows]
    rows = without(rows, title="title 0", setup="B", visit=2, scene="slow")
    judged = judge(rows, design("AB"))
    assert judged.measures["rate"].comparisons[0].estimate == pytest.approx(0.0, abs=0.003)
    assert any("1 visit without one of the scenes" in note for note in judged.notes)


def test_a_scene_not_recorded_under_every_setup_is_left_out():
    rows = study(titles=2, effects=(0.0, 0.0), noise=0.001, shift=0.001, scene="a")
    rows += [replace(r, scene="b", value=r.value / 3) for r in rows if r.setup == "A"]
    judged = judge(rows, design("AB"))
    assert judged.measures["rate"].over[0].estimate == pytest.approx(0.0, abs=0.003)
    assert any("title 0: b left out" in note for note in judged.notes)


def test_two_rounds_of_two_setups_leave_one_degree_of_freedom_and_are_not_used_unasked():
    rows = study(effects=(0.0, 0.05), visits=2)
    judged = judge(rows, design("AB"))
    assert not judged.measures["rate"].rounds_used
    assert any("rounds would leave 1 degree of freedom" in note for note in judged.notes)
    assert judge(rows, design("AB", rounds=True)).measures["rate"].rounds_used


def test_setups_not_recorded_yet_take_no_part():
    """A design of four setups of which two are recorded judges those two as if there were no others."""
    rows = study(effects=(0.0, 0.03))
    part, whole = judge(rows, design("ABCD")), judge(rows, design("AB"))
    assert part.measures["rate"].rounds_used
    for a, b in zip(part.measures["rate"].comparisons, whole.measures["rate"].comparisons, strict=True):
        assert (a.simultaneous.low, a.simultaneous.high) == pytest.approx((b.simultaneous.low, b.simultaneous.high))
    a, b = part.measures["rate"].over[0], whole.measures["rate"].over[0]
    assert (a.these.low, a.these.high, a.verdict) == (pytest.approx(b.these.low), pytest.approx(b.these.high), b.verdict)


def test_one_setup_has_cells_but_nothing_to_compare():
    judged = judge(study(effects=(0.0,)), design("A")).measures["rate"]
    assert judged.comparisons == () and judged.over == () and len(judged.cells) == 6
    assert judged.noise.shift_df == pytest.approx(2)


def test_incomplete_factors_give_the_effects_that_the_setups_allow():
    """A, B, C of a 2 × 2: each factor at one level of the other, no interaction."""
    judged = judge(study(effects=(0.0, 0.05, 0.1), noise=0.001, shift=0.001), design("ABC", **square("ABC")))
    over = {e.factors: e.estimate for e in judged.measures["rate"].effects if e.title is None}
    assert over["x",] == pytest.approx(0.05, abs=0.003)
    assert over["y",] == pytest.approx(0.10, abs=0.003)
    assert ("x", "y") not in over
    assert any("do not allow the effect of x on × y on" in note for note in judged.notes)
    assert any("mean over those combinations" in note for note in judged.notes)
