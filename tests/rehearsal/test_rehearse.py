"""Rehearsing as a whole: before recording by what is supposed, after it by what was found."""

from dataclasses import replace

import numpy as np
import pytest

from evenhand.judging.analysis import analyse
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Verdict
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better, Measure, Scale
from evenhand.planning.minutes import Bill
from evenhand.rehearsal.model import Difference, Scheme, Spreads
from evenhand.rehearsal.rehearse import Asked, Wishes, rehearse, truth_of
from evenhand.rehearsal.simulate import Truth, rows, simulate
from evenhand.study.model import Costs

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
MARGIN = float(np.log1p(0.03))
SPREADS = Spreads(run=0.02, title=0.005, visit=0.01, round=0.0, source="stated")
NAMES = ("s1", "s2", "s3")
SCHEME = Scheme(("t1", "t2", "t3", "t4"), NAMES, "s1", (1, 1, 1, 1), 3, 2, 0, None, (1.0,) * 4)
BILL = Bill(Costs(), visit=6 + 4 * 3, scenes=4 * 1.5)
WISHES = Wishes(studies=300)


def recorded(truth=None, scheme=SCHEME, seed=5):
    """What a study was asked and what judging found of it."""
    truth = truth or Truth(4, 3, 3, 2, 0.03, 0.01, 0.005, effects=(0.0, 0.01, 0.2))
    design = Design(NAMES, "s1", (RATE,))
    table = rows(simulate(truth, np.random.default_rng(seed)), 0, "rate")
    shown = judge(table, design).measures["rate"]
    analysis = analyse(visit_means(read_runs(table, design), RATE, design), design, shown.rounds_used)
    return Asked(RATE, MARGIN, SPREADS, analysis, shown)


def test_the_same_seed_gives_the_same_rehearsal():
    asked = [Asked(RATE, MARGIN, SPREADS)]
    first = rehearse(SCHEME, asked, BILL, WISHES)
    assert first == rehearse(SCHEME, asked, BILL, WISHES)
    assert first.expected != rehearse(SCHEME, asked, BILL, replace(WISHES, seed=2)).expected
    assert not first.recorded and first.opened == () and first.next_visits is None


def test_quieter_visits_and_more_of_them_settle_more():
    noisy = rehearse(SCHEME, [Asked(RATE, MARGIN, SPREADS)], BILL, WISHES).expected[0]
    quiet = rehearse(SCHEME, [Asked(RATE, MARGIN, replace(SPREADS, run=0.005))], BILL, WISHES).expected[0]
    longer = rehearse(replace(SCHEME, visits=6), [Asked(RATE, MARGIN, SPREADS)], BILL, WISHES).expected[0]
    for better in (quiet, longer):
        assert better.at_titles.simultaneous < noisy.at_titles.simultaneous
        assert better.at_titles.settled > noisy.at_titles.settled
    assert noisy.visit_df == 4 and longer.visit_df == 10  # (3 - 1)(3 - 1), (3 - 1)(6 - 1): rounds are taken out


def test_supposed_differences_decide_what_settles():
    asked = [Asked(RATE, MARGIN, SPREADS)]
    far = rehearse(SCHEME, asked, BILL, replace(WISHES, supposed=(Difference(1.0, -9.0),))).expected[0]
    near = rehearse(SCHEME, asked, BILL, replace(WISHES, supposed=(Difference(1.0, 1.0),))).expected[0]
    assert far.at_titles.simultaneous == near.at_titles.simultaneous
    assert far.over_titles.settled > near.over_titles.settled


def test_scenes_thin_out_run_noise():
    truth = truth_of(replace(SCHEME, scenes=(2, 2, 2, 2)), SPREADS)
    assert truth.run_noise == pytest.approx(0.02 / np.sqrt(2))


def test_alternatives_fit_the_hours_and_one_visit_bears_no_verdict():
    hours = rehearse(SCHEME, [Asked(RATE, MARGIN, SPREADS)], BILL, replace(WISHES, hours=5.0)).hours
    assert all(a.hours <= 5.0 for a in hours.alternatives) and len(hours.alternatives) >= 3
    first = hours.alternatives[0]
    assert first.visits == 1 and np.isinf(first.half_title) and first.settled_title == 0
    best = hours.alternatives[hours.best]
    assert best.settled_title >= max(a.settled_title for a in hours.alternatives) - 0.01
    none = rehearse(SCHEME, [Asked(RATE, MARGIN, SPREADS)], BILL, replace(WISHES, hours=0.2)).hours
    assert none.alternatives == () and none.best is None
    one = rehearse(SCHEME, [Asked(RATE, MARGIN, SPREADS)], BILL, replace(WISHES, hours=1.2)).hours
    assert [a.visits for a in one.alternatives] == [1] and one.best is None and one.least > 1.2


def test_after_recording_the_open_verdicts_are_told_and_visits_given_away():
    asked = recorded()
    found = rehearse(SCHEME, [asked], BILL, replace(WISHES, further=5))
    opened = sum(c.verdict is Verdict.OPEN for c in (*asked.shown.comparisons, *asked.shown.over))
    assert found.recorded and len(found.opened) == opened > 0
    given = dict(found.next_visits.visits)
    assert sum(given.values()) == 5 and found.next_visits.best == "s3"
    assert given["s3"] > 0


def test_gaps_are_rehearsed_as_they_are():
    asked = recorded(Truth(4, 3, (3, 2, 3), 2, 0.03, 0.01, 0.005, absent=((3, 2, None),)))
    found = rehearse(SCHEME, [asked], BILL, WISHES)
    assert not found.expected[0].rounds
    whole = rehearse(SCHEME, [recorded()], BILL, WISHES)
    assert found.expected[0].visit_df != whole.expected[0].visit_df


def test_every_comparison_has_its_reach_and_gaps_widen_it():
    asked = recorded(Truth(4, 3, 3, 2, 0.03, 0.01, 0.005, absent=((0, 1, 2), (3, 2, None))))
    expected = rehearse(SCHEME, [asked], BILL, WISHES).expected[0]
    reach = {(r.title, r.setup, r.against): r for r in expected.reaches}
    assert {r.against for r in expected.reaches if "s1" in (r.setup, r.against)} == {"s1"}
    assert ("t4", "s3", "s1") not in reach and len(reach) == 3 + 4 * 3 - 2
    shown = {(c.title, c.setup, c.against) for c in asked.shown.comparisons}
    assert {key for key in reach if key[0]} == shown
    assert reach["t1", "s2", "s1"].pointwise > reach["t2", "s2", "s1"].pointwise
    at = [r for r in expected.reaches if r.title]
    assert np.mean([r.settled for r in at]) == pytest.approx(expected.at_titles.settled)
    assert all(r.simultaneous > r.pointwise for r in at)


def test_more_noise_than_supposed_settles_less():
    found = rehearse(SCHEME, [Asked(RATE, MARGIN, SPREADS)], BILL, WISHES)
    assert found.noisier < found.expected[0].at_titles.settled
    assert rehearse(SCHEME, [recorded()], BILL, WISHES).noisier is None


def test_of_a_measure_that_is_better_lower_the_least_is_best():
    asked = recorded()
    lower = replace(asked, measure=replace(RATE, better=Better.LOWER))
    assert rehearse(SCHEME, [lower], BILL, WISHES).next_visits.best != "s3"


def test_progress_is_told():
    told = []
    rehearse(SCHEME, [recorded()], BILL, WISHES, lambda done, total, what: told.append((done, total, what)))
    assert all(0 <= done <= total for done, total, _ in told)
    assert {"what to expect of Average", "what would settle Average", "what the hours can buy"} <= {what for *_, what in told}
