"""Draws of the truth agree with the intervals that judging gives, and further visits settle what they should."""

from dataclasses import replace

import numpy as np
import pytest

from evenhand.judging.analysis import analyse
from evenhand.judging.critical import t_quantile
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Verdict
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better, Measure, Scale
from evenhand.rehearsal.planned import pairs_of
from evenhand.rehearsal.settling import further, open_verdicts, truths
from evenhand.rehearsal.simulate import Truth, rows, simulate

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
BASE = Truth(6, 3, 3, 2, 0.02, 0.01, 0.005, effects=(0.0, 0.02, 0.3))
KINDS = {
    "complete": BASE,
    "rounds": replace(BASE, round_shift=0.05),
    "gaps": replace(BASE, absent=((0, 1, 2), (3, 2, None))),
    "one title": replace(BASE, titles=1),
}


def study(truth, seed=4, rounds=None):
    """(analysis, what judge shows) of one simulated study."""
    design = Design(("s1", "s2", "s3"), "s1", (RATE,), rounds=rounds)
    table = rows(simulate(truth, np.random.default_rng(seed)), 0, "rate")
    shown = judge(table, design).measures["rate"]
    return analyse(visit_means(read_runs(table, design), RATE, design), design, shown.rounds_used), shown


@pytest.mark.parametrize("kind", KINDS)
def test_draws_lie_within_the_intervals_as_often_as_these_promise(kind):
    """Drawn differences have the estimate as their middle and nearly 95 % of them within the pointwise interval: a little fewer,
    as the draws let both parts of the noise be as uncertain as they are at once.
    """
    analysis, _ = study(KINDS[kind])
    drawn = truths(analysis, 20_000, np.random.default_rng(1))
    pairs = pairs_of(analysis.layout, np.ones(analysis.layout.shape[0]))
    found = analysis.contrasts(pairs.rows)
    differences = np.einsum("skc,kc->sk", drawn.cells[:, pairs.at], pairs.weights[pairs.pair])
    np.testing.assert_allclose(np.median(differences, axis=0), found.estimate[0], atol=5e-4)
    half = t_quantile(found.df, 0.95) * found.se
    inside = (np.abs(differences - found.estimate) <= half).mean(axis=0)
    assert 0.91 < inside.mean() < 0.98
    assert inside.min() > 0.90


def test_cells_without_a_visit_are_no_difference_of_note():
    analysis, _ = study(KINDS["gaps"])
    drawn = truths(analysis, 50, np.random.default_rng(1)).cells
    assert np.isfinite(drawn).all()
    np.testing.assert_allclose(drawn[:, 3, 2], drawn[:, 3, :2].mean(axis=1))


def test_a_plain_difference_stays_settled_and_quiet_ties_settle_sooner():
    quiet, _ = study(replace(BASE, run_noise=0.01, visit_shift=0.004))
    noisy, _ = study(BASE)
    votes = np.ones(6)
    at_quiet, _ = further(quiet, votes, 200, 3, most=4)
    at_noisy, over = further(noisy, votes, 200, 3, most=4)
    pairs = pairs_of(noisy.layout, votes)
    plain = np.abs(pairs.weights[pairs.pair][:, 2]) == 1  # the third setup is far ahead
    assert at_noisy.shape == (18, 4) and over.shape == (3, 4)
    assert at_noisy[plain].min() > 0.99
    assert at_quiet[~plain, 0].mean() > at_noisy[~plain, 0].mean()
    assert at_noisy[~plain, 3].mean() > at_noisy[~plain, 0].mean()


def test_every_open_verdict_is_there_with_its_figures():
    analysis, shown = study(replace(BASE, run_noise=0.04))
    opened = open_verdicts(analysis, shown, np.ones(6), 200, 3)
    expected = [(None, o.setup, o.against) for o in shown.over if o.verdict is Verdict.OPEN]
    expected += [(c.title, c.setup, c.against) for c in shown.comparisons if c.verdict is Verdict.OPEN]
    assert [(o.title, o.setup, o.against) for o in opened] == expected and expected
    for o in opened:
        assert len(o.chances) == 10 and all(0 <= c <= 1 for c in o.chances)
        assert o.visits is None or (o.chances[o.visits - 1] >= 0.8 and all(c < 0.8 for c in o.chances[: o.visits - 1]))
    quick = {(c.title, c.setup, c.against): c.visits_to_settle for c in shown.comparisons}
    assert all(o.quick == quick[o.title, o.setup, o.against] for o in opened if o.title)
    assert open_verdicts(analysis, shown, np.ones(6), 200, 3) == opened


def test_stated_chances_are_kept_by_further_visits():
    """Over 25 studies whose differences are anywhere alike (as the draws suppose): of verdicts said to settle with a chance, so
    many are settled when the visits are made. Verdicts of a study share its visits, hence the wide bounds.
    """
    truth = Truth(4, 3, 3, 2, 0.03, 0.01, 0.01, effect_spread=0.06)
    stated, kept = [], []
    for seed in range(25):
        longer = simulate(replace(truth, visits=5), np.random.default_rng(seed))
        design = Design(("s1", "s2", "s3"), "s1", (RATE,))
        all_rows = rows(longer, 0, "rate")
        table = [row for row in all_rows if row.visit <= 3]
        shown = judge(table, design).measures["rate"]
        analysis = analyse(visit_means(read_runs(table, design), RATE, design), design, shown.rounds_used)
        later = judge(all_rows, design).measures["rate"]
        verdicts = {(c.title, c.setup, c.against): c.verdict for c in later.comparisons}
        for o in open_verdicts(analysis, shown, np.ones(4), 60, seed):
            if o.title:
                stated.append(o.chances[1])
                kept.append(verdicts[o.title, o.setup, o.against] is not Verdict.OPEN)
    assert len(stated) > 100
    assert np.mean(kept) == pytest.approx(np.mean(stated), abs=0.08)
    likely = np.array(stated) > 0.5
    assert np.array(kept)[likely].mean() > np.array(kept)[~likely].mean() + 0.25
