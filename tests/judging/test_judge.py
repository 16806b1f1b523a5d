"""What `judge` says of complete studies, against plain formulas and another library."""

import math

import numpy as np
import pytest
from invented_runs import RATE, SHARE, WAIT, design, square, study
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.stats.multicomp import pairwise_tukeyhsd

from evenhand.judging.judge import judge
from evenhand.judging.model import Verdict

TRUE = (0.0, 0.0, 0.05, -0.08)


def test_verdicts_of_a_quiet_study_are_the_truth():
    """Noise is small beside the differences; margin 3 %."""
    over = judge(study(effects=TRUE, noise=0.002, shift=0.001), design()).measures["rate"].over
    assert [(o.setup, o.against, o.verdict) for o in over] == [
        ("B", "A", Verdict.LEVEL),
        ("C", "A", Verdict.AHEAD_BEYOND),
        ("D", "A", Verdict.BEHIND_BEYOND),
        ("C", "B", Verdict.AHEAD_BEYOND),
        ("D", "B", Verdict.BEHIND_BEYOND),
        ("D", "C", Verdict.BEHIND_BEYOND),
    ]
    assert {o.titles for o in over} == {6}


def test_every_pair_once_and_against_the_baseline():
    judged = judge(study(), design(setups="ABCD", **{}).__class__(tuple("ABCD"), "C", (RATE,))).measures["rate"]
    pairs = [(c.setup, c.against) for c in judged.comparisons if c.title == "title 0"]
    assert pairs == [("B", "A"), ("A", "C"), ("D", "A"), ("B", "C"), ("D", "B"), ("D", "C")]


def test_one_title_is_tukeys_method():
    """A single title without rounds is a one-way layout of visit means; statsmodels' Tukey intervals."""
    rows = study(titles=1, runs=1, noise=0.02)
    judged = judge(rows, design(rounds=False)).measures["rate"]
    y, groups = np.log([r.value for r in rows]), [r.setup for r in rows]
    theirs = pairwise_tukeyhsd(y, groups)
    ours = {tuple(sorted((c.setup, c.against))): c for c in judged.comparisons}
    for (a, b), (low, high), difference in zip(
        [("A", "B"), ("A", "C"), ("A", "D"), ("B", "C"), ("B", "D"), ("C", "D")], theirs.confint, theirs.meandiffs, strict=True
    ):
        found = ours[a, b]
        assert found.estimate == pytest.approx(difference, rel=1e-9)
        assert (found.simultaneous.low, found.simultaneous.high) == pytest.approx((low, high), rel=1e-3, abs=1e-6)
        assert found.df == pytest.approx(8)


def test_the_unit_is_the_visit_however_many_runs_it_has():
    """Runs repeated exactly add nothing: same intervals, to the digit."""
    rows = study(runs=1)
    tripled = [r.__class__(r.title, r.setup, r.visit, n, r.measure, r.value) for r in rows for n in (1, 2, 3)]
    once, thrice = judge(rows, design()).measures["rate"], judge(tripled, design()).measures["rate"]
    for a, b in zip(once.comparisons, thrice.comparisons, strict=True):
        assert (a.estimate, a.se, a.df) == pytest.approx((b.estimate, b.se, b.df), rel=1e-9)


def test_over_these_titles_is_the_paired_look_at_visit_means():
    """Standard error over titles from the visit means of the mean over titles: a two-sample t on 2 (n − 1) degrees of freedom."""
    rows = study(titles=5, effects=(0.0, 0.04), visits=4)
    over = judge(rows, design("AB", rounds=False)).measures["rate"].over[0]
    mean = {
        s: [np.mean([np.log(r.value) for r in rows if (r.setup, r.visit) == (s, v)]) for v in range(1, 5)] for s in ("A", "B")
    }
    theirs = stats.ttest_ind(mean["B"], mean["A"])
    interval = theirs.confidence_interval(0.95)
    assert over.estimate == pytest.approx(np.mean(mean["B"]) - np.mean(mean["A"]))
    assert (over.these.low, over.these.high) == pytest.approx((interval.low, interval.high), rel=1e-5)
    assert over.p_value == pytest.approx(theirs.pvalue, rel=1e-6)


def test_rounds_are_a_two_way_layout():
    """With rounds, over titles: the paired t of two setups."""
    rows = study(titles=5, effects=(0.0, 0.04), visits=4)
    over = judge(rows, design("AB", rounds=True)).measures["rate"].over[0]
    mean = {
        s: [np.mean([np.log(r.value) for r in rows if (r.setup, r.visit) == (s, v)]) for v in range(1, 5)] for s in ("A", "B")
    }
    theirs = stats.ttest_rel(mean["B"], mean["A"])
    interval = theirs.confidence_interval(0.95)
    assert over.df_these == pytest.approx(3)
    assert (over.these.low, over.these.high) == pytest.approx((interval.low, interval.high), rel=1e-4)


def test_shift_is_the_component_of_a_mixed_model():
    """Balanced, no rounds: statsmodels' REML, visits random, cells fixed, in per cent; 2 % for optimiser and moderation."""
    rows = study(titles=8, runs=1, noise=0.01, shift=0.02, visits=3)
    noise = judge(rows, design(rounds=False)).measures["rate"].noise
    cells = sorted({(r.title, r.setup) for r in rows})
    fixed = np.array([[float((r.title, r.setup) == c) for c in cells] for r in rows])
    groups = [f"{r.setup}{r.visit}" for r in rows]
    fitted = MixedLM(100 * np.log([r.value for r in rows]), fixed, groups).fit(reml=True)
    assert 100 * noise.shift == pytest.approx(math.sqrt(float(np.asarray(fitted.cov_re)[0, 0])), rel=0.02)
    assert 100 * math.sqrt(np.mean(np.square(list(noise.title.values())))) == pytest.approx(math.sqrt(fitted.scale), rel=1e-3)


def test_direction_of_a_measure_reverses_ahead_and_behind():
    rows = study(effects=(0.0, 0.1), noise=0.002, shift=0.001)
    waits = [r.__class__(r.title, r.setup, r.visit, r.run, "wait", r.value) for r in rows]
    judged = judge(rows + waits, design("AB", RATE, WAIT))
    assert {c.verdict for c in judged.measures["rate"].comparisons} == {Verdict.AHEAD_BEYOND}
    assert {c.verdict for c in judged.measures["wait"].comparisons} == {Verdict.BEHIND_BEYOND}
    assert judged.measures["wait"].over[0].estimate == judged.measures["rate"].over[0].estimate
    assert judged.measures["wait"].over[0].titles_behind == 6


def test_differences_are_compared_as_they_are_and_may_be_zero():
    rng = np.random.default_rng(2)
    rows = [
        {"title": t, "setup": s, "visit": v, "run": r, "measure": "share", "value": max(0.0, base + rng.normal(0, 0.1))}
        for t in ("Ironvale", "Night Ferry")
        for s, base in (("A", 0.0), ("B", 12.0))
        for v in (1, 2, 3)
        for r in (1, 2)
    ]
    judged = judge(rows, design("AB", SHARE)).measures["share"]
    assert judged.over[0].estimate == pytest.approx(12.0, abs=0.2)
    assert judged.over[0].verdict is Verdict.BEHIND_BEYOND
    assert judged.cells[0].value == pytest.approx(np.mean(judged.cells[0].visit_means))


def test_margins_are_ratios_on_the_log_scale():
    judged = judge(study(), design(margins={"rate": 0.10})).measures["rate"]
    assert judged.margin == pytest.approx(math.log(1.1))
    assert judged.comparisons[0].margin == judged.margin


def test_factor_effects_and_their_need_of_each_other():
    """2 × 2 with both factors +10 % alone and +50 % together."""
    effects = (0.0, math.log(1.1), math.log(1.1), math.log(1.5))
    judged = judge(study(effects=effects, noise=0.001, shift=0.001), design(**square())).measures["rate"]
    over = {e.factors: e for e in judged.effects if e.title is None}
    main = (math.log(1.1) + math.log(1.5) - math.log(1.1)) / 2
    assert over["x",].estimate == pytest.approx(main, abs=0.003)
    assert over["y",].levels == (("on", "off"),)
    assert over["x", "y"].estimate == pytest.approx(math.log(1.5) - 2 * math.log(1.1), abs=0.003)
    assert over["x", "y"].verdict is Verdict.AHEAD_BEYOND
    assert {e.title for e in judged.effects if e.title} == {f"title {t}" for t in range(6)}


def test_cells_in_natural_units():
    cell = judge(study(noise=0.001, shift=0.001), design()).measures["rate"].cells[0]
    assert (cell.title, cell.setup, cell.visits, cell.runs, cell.visit_runs) == ("title 0", "A", 3, 6, (2, 2, 2))
    assert cell.interval_low < cell.value < cell.interval_high
    assert cell.value == pytest.approx(60, rel=0.01)
    assert cell.value == pytest.approx(np.exp(np.mean(np.log(cell.visit_means))))


def test_both_analyses_of_rounds_and_where_they_disagree():
    judged = judge(study(seed=4, shift=0.02), design())
    assert judged.other_rounds is not None
    assert judged.measures["rate"].rounds_used and not judged.other_rounds["rate"].rounds_used
    assert judged.measures["rate"].noise.shift_df == pytest.approx(6)
    assert judged.other_rounds["rate"].noise.shift_df == pytest.approx(8)
    assert judged.measures["rate"].comparisons[0].estimate == pytest.approx(judged.other_rounds["rate"].comparisons[0].estimate)
    for d in judged.disagreements:
        assert d.way == "without rounds" and d.shown is not d.other


def test_an_open_verdict_says_what_would_settle_it():
    judged = judge(study(titles=1, effects=(0.0, 0.03), noise=0.01, shift=0.01, visits=3), design("AB", rounds=False))
    found = judged.measures["rate"].comparisons[0]
    assert found.verdict is Verdict.OPEN
    more = found.visits_to_settle
    assert more is not None
    n = 3 + more
    half = stats.t.ppf(0.975, 4 * (n - 1) / 2) * found.se * math.sqrt(3 / n)
    assert half < abs(found.estimate)


def test_titles_together():
    rng = np.random.default_rng(8)
    rows = [
        r.__class__(r.title, r.setup, r.visit, r.run, r.measure, r.value * (bump[r.title] if r.setup == "B" else 1))
        for bump in [{f"title {t}": float(np.exp(rng.normal(0.05, 0.05))) for t in range(12)}]
        for r in study(titles=12, effects=(0.0, 0.0), noise=0.004, shift=0.002)
    ]
    judged = judge(rows, design("AB")).measures["rate"]
    over = judged.over[0]
    assert over.tau == pytest.approx(0.05, rel=0.6)
    assert over.prediction and over.like and over.se_like
    assert over.prediction.high - over.prediction.low > over.like.high - over.like.low
    assert over.se_like > over.se_these
    assert over.titles_ahead + over.titles_level + over.titles_behind + over.titles_open == 12
    for c in judged.comparisons:
        assert c.pooled is not None and abs(c.pooled - over.estimate) <= abs(c.estimate - over.estimate) + 0.01
        assert c.p_value is not None and c.false_discovery is not None and c.false_discovery >= c.p_value


def test_weights_move_the_vote():
    rows = study(titles=2, effects=(0.0, 0.0), noise=0.001, shift=0.001)
    rows = [
        r.__class__(r.title, r.setup, r.visit, r.run, r.measure, r.value * (1.2 if (r.title, r.setup) == ("title 1", "B") else 1))
        for r in rows
    ]
    even = judge(rows, design("AB")).measures["rate"].over[0]
    only = judge(rows, design("AB", weights={"title 0": 3.0})).measures["rate"].over[0]
    assert even.estimate == pytest.approx(math.log(1.2) / 2, abs=0.002)
    assert only.estimate == pytest.approx(math.log(1.2) / 4, abs=0.002)
