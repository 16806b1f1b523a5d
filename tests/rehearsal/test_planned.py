"""A rehearsed study is judged as `judge` judges, and its chances are those of the textbook formulas where there are any."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import special

from evenhand.judging.judge import judge
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.measures.model import Better, Measure, Scale
from evenhand.rehearsal.model import Difference
from evenhand.rehearsal.needed import needed, round_term, true_error
from evenhand.rehearsal.planned import OPEN, VERDICTS, judged, mixed, outlooks, pairs_of, simulated
from evenhand.rehearsal.power import chance_ahead, chance_level
from evenhand.rehearsal.simulate import Truth, rows, simulate

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
MARGIN = np.log1p(0.03)
BASE = Truth(5, 3, 3, 2, 0.02, 0.01, 0.005, effects=(0.0, 0.05, -0.03), effect_spread=0.03)
KINDS = {
    "complete": (BASE, False),
    "rounds": (replace(BASE, round_shift=0.05), True),
    "gaps": (replace(BASE, absent=((0, 1, 2), (3, 2, None))), False),
    "one visit": (replace(BASE, visits=1), False),
}


@pytest.mark.parametrize("kind", KINDS)
def test_verdicts_are_those_of_judge(kind):
    truth, rounds = KINDS[kind]
    drawn = simulate(truth, np.random.default_rng(8))
    layout = layout_of(drawn.present, rounds)
    pairs = pairs_of(layout, np.ones(truth.titles))
    at, over = judged(layout, pairs, layout.pick(drawn.values.mean(axis=-1)), 0.95)
    names = ("s1", "s2", "s3")
    shown = judge(rows(drawn, 0, "rate"), Design(names, "s1", (RATE,), rounds=rounds)).measures["rate"]
    theirs = {(c.title, frozenset((c.setup, c.against))): c for c in shown.comparisons}
    both = [frozenset(names[c] for c in np.flatnonzero(w)) for w in pairs.weights]
    assert len(theirs) == pairs.at.size
    told = 0
    for k, (t, p) in enumerate(zip(pairs.at, pairs.pair, strict=True)):
        c = theirs[f"t{t + 1}", both[p]]
        assert abs(c.estimate) == pytest.approx(abs(at.estimate[0, k]), abs=1e-12)
        assert c.simultaneous.high - c.estimate == pytest.approx(at.simultaneous[0, k], rel=1e-6)
        code = at.verdict(MARGIN)[0, k]
        told += code != OPEN
        if not shown.noise.shift_df:
            assert code == OPEN and c.verdict.value == "no verdict"
        elif c.against == "s1" or code == OPEN:  # else judge may have the pair the other way round
            assert VERDICTS[code] is c.verdict
    assert told > 0 or kind == "one visit"
    for p, o in enumerate(shown.over):
        [mine] = [q for q, pair in enumerate(both) if pair == frozenset((o.setup, o.against))]
        assert o.these.high - o.estimate == pytest.approx(over.simultaneous[0, mine], rel=1e-6), p


def test_chances_are_those_of_the_two_sample_test():
    """One title, two setups, seven visits, run noise alone: the noncentral t and the two one-sided tests, by formula."""
    truth = Truth(1, 2, 7, 1, run_noise=0.03, visit_shift=0.0)
    found = simulated(truth, False, np.ones(1), 20_000, 3, 0.95)
    at, over, family = outlooks(found, MARGIN, np.zeros((20_000, 1, 2)))
    se, df = 0.03 * np.sqrt(2 / 7), 12
    reach = 3.5 * np.sqrt(0.25 / 20_000)
    assert at.finds_double == pytest.approx(chance_ahead(2 * MARGIN, se, df, special.stdtrit(df, 0.975)), abs=reach)
    assert at.finds_more == pytest.approx(chance_ahead(1.5 * MARGIN, se, df, special.stdtrit(df, 0.975)), abs=reach)
    assert at.tie_level == pytest.approx(chance_level(0, -MARGIN, MARGIN, se, df, special.stdtrit(df, 0.95)), abs=reach)
    assert at.covers.value == pytest.approx(0.95, abs=3.5 * at.covers.error)
    assert over.covers == at.covers
    assert family.value == pytest.approx(at.covers.value, abs=5e-4)  # the critical value of one pair is interpolated
    assert at.settled == pytest.approx(at.tie_level + 2 * at.false_ahead.value, abs=reach)


def test_one_visit_bears_no_verdict():
    found = simulated(Truth(3, 3, 1, 5, 0.01, 0.005), False, np.ones(3), 50, 1, 0.95)
    at, over, _ = outlooks(found, MARGIN, np.ones((50, 3, 3)))
    assert np.isinf(at.simultaneous) and np.isinf(over.pointwise)
    assert at.settled == over.settled == at.finds_double == at.tie_level == 0


def test_supposed_differences_have_the_shares_asked_for():
    drawn = mixed((Difference(0.8, 0.0), Difference(0.2, -3.0)), (4000, 5, 3), 1, 9)
    assert (drawn[:, :, 1] == 0).all()
    assert np.mean(drawn[:, :, [0, 2]] == -3.0) == pytest.approx(0.2, abs=0.01)


def test_the_same_seed_gives_the_same_studies_and_larger_differences_are_found_more_often():
    first, again, other = (simulated(BASE, False, np.ones(5), 40, seed, 0.95) for seed in (1, 1, 2))
    assert (first.at_titles.estimate == again.at_titles.estimate).all()
    assert (first.at_titles.estimate != other.at_titles.estimate).any()
    plain = simulated(replace(BASE, effects=(), effect_spread=0.0), False, np.ones(5), 400, 1, 0.95)
    at, over, _ = outlooks(plain, MARGIN, np.zeros((400, 5, 3)))
    assert at.finds_double > at.finds_more > at.false_ahead.value
    assert over.simultaneous < at.simultaneous


@pytest.mark.parametrize(("setups", "visits", "asked", "used"), [(4, 2, None, True), (2, 2, None, False), (2, 2, True, True),
                                                                 (4, 3, False, False), (4, 1, True, False)])  # fmt: skip
def test_rounds_are_a_term_as_judge_has_it(setups, visits, asked, used):
    drawn = simulate(Truth(2, setups, visits, 1, 0.01, 0.01), np.random.default_rng(1))
    names = tuple(f"s{i + 1}" for i in range(setups))
    shown = judge(rows(drawn, 0, "rate"), Design(names, "s1", (RATE,), rounds=asked)).measures["rate"]
    assert round_term(setups, visits, asked) is used is shown.rounds_used


def test_visits_needed_are_the_first_that_reach_four_in_five():
    """Simulated at that number of visits the chance is four in five or nearly; at one fewer it is less."""
    truth = Truth(8, 4, 3, 2, 0.02, 0.01, 0.01)
    visits = needed(truth, None, MARGIN, 0.95, 1)
    chances = {}
    for n in (visits.finds_double - 1, visits.finds_double):
        found = simulated(replace(truth, visits=n), round_term(4, n, None), np.ones(8), 1500, 2, 0.95)
        chances[n] = outlooks(found, MARGIN, np.zeros((1500, 8, 4)))[0].finds_double
        spread = found.at_titles.estimate.std()
        assert spread == pytest.approx(true_error(truth, n), rel=0.05)
    below, reached = chances.values()
    assert below < 0.82 and reached > 0.77
    assert needed(replace(truth, run_noise=0.5), None, MARGIN, 0.95, 1).tie_level is None
