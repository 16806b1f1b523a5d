"""Setups unlike each other: the ratio of their own noise, and the one whose visits differ by more."""

import numpy as np
import pytest

from evenhand.judging.judge import judge
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.judging.noise import visit_noise
from evenhand.judging.setup_noise import unsteady_setup
from evenhand.measures.model import Better, Measure, Scale
from evenhand.rehearsal.simulate import Truth, rows, simulate

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
NOISY = Truth(20, 3, 3, 2, 0.03, 0.01, 0.005, setup_noise=(1.0, 1.0, 3.0))


def noise_of(truth, studies, seed=1):
    simulated = simulate(truth, np.random.default_rng(seed), studies)
    layout = layout_of(simulated.present, False)
    return visit_noise(layout, layout.pick(simulated.values.mean(axis=-1)))


def test_a_noisy_setup_is_found_with_its_ratio():
    """Variances 1, 1, 9 have the ratios 3/11, 3/11, 27/11 to their mean."""
    found = noise_of(NOISY, 300).setups.mean(axis=0)
    np.testing.assert_allclose(found, np.array([3, 3, 27]) / 11, rtol=0.08)


def test_setups_that_are_alike_mostly_stay_alike():
    found = noise_of(Truth(20, 3, 3, 2, 0.03, 0.01, 0.005), 400).setups
    assert (found == 1.0).all(axis=1).mean() > 0.5
    assert abs(found - 1.0).mean() < 0.12


def test_too_few_visits_tell_no_setup_apart():
    assert (noise_of(Truth(3, 3, 2, 2, 0.03, 0.0, setup_noise=(1.0, 1.0, 9.0)), 20).setups == 1.0).all()


def test_a_setup_that_shows_no_noise_keeps_a_little():
    truth = Truth(20, 2, 3, 2, 0.03, 0.0, setup_noise=(1.0, 1e-9))
    assert noise_of(truth, 5).setups.min() == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("setups", "visits", "bound"), [(4, 2, 0.9065), (4, 3, 0.7679), (4, 4, 0.6841), (6, 2, 0.7808), (6, 3, 0.6161)]
)
def test_unsteady_beyond_cochrans_bound(setups, visits, bound):
    """Table of the largest variance's share at 5 % (Cochran 1941; Eisenhart, Hastay & Wallis 1947): from memory."""
    layout = layout_of(np.ones((3, setups, visits), dtype=bool), False)
    for share, expected in ((bound + 0.001, 1), (bound - 0.001, None)):
        spread = np.full(setups, (1 - share) / (setups - 1))
        spread[1] = share
        deviation = np.zeros(visits)
        deviation[:2] = 1, -1
        means = np.sqrt(spread)[None, :, None] * deviation * np.ones((3, 1, 1))
        assert unsteady_setup(layout, layout.pick(means)) == expected


def test_doubts_name_the_setup_and_leave_the_others_alone():
    truth = Truth(12, 3, 4, 2, 0.03, 0.01, 0.005, setup_noise=(1.0, 1.0, 3.0), setup_shift=(1.0, 1.0, 40.0))
    drawn = simulate(truth, np.random.default_rng(2), 1)
    judged = judge(rows(drawn, 0, "rate"), Design(("s1", "s2", "s3"), "s1", (RATE,), rounds=False)).measures["rate"]
    for found in (*judged.over, *judged.comparisons):
        said = " ".join(found.doubts)
        apart = "s3" in (found.setup, found.against)
        assert ("visits of s3 differ by more" in said) == apart
        assert ("s3 is noisier than the other setups" in said) == apart


def test_a_few_titles_far_off_are_told_where_titles_like_these_are_spoken_of():
    even = Truth(12, 2, 3, 2, 0.01, 0.01, effect_spread=0.01)
    drawn = simulate(even, np.random.default_rng(3), 1)
    drawn.values[0, 4, 1] -= 0.4
    design = Design(("s1", "s2"), "s1", (RATE,))
    assert any("a few titles lie far" in d for d in judge(rows(drawn, 0, "rate"), design).measures["rate"].over[0].doubts)
    drawn = simulate(even, np.random.default_rng(3), 1)
    assert not any("a few titles lie far" in d for d in judge(rows(drawn, 0, "rate"), design).measures["rate"].over[0].doubts)


def test_quiet_setups_beside_a_very_noisy_one_keep_their_degrees_of_freedom():
    """What a noisy setup leaves open is no doubt of the two others: without this their intervals became 10^10 wide."""
    truth = Truth(5, 3, 3, 2, 0.01, 0.01, 0.005, setup_noise=(1.0, 1.0, 6.0))
    design = Design(("s1", "s2", "s3"), "s1", (RATE,), rounds=False)
    simulated = simulate(truth, np.random.default_rng(3), 40)
    for study in range(40):
        quiet = [c for c in judge(rows(simulated, study, "rate"), design).measures["rate"].comparisons if c.setup == "s2"]
        assert min(c.df for c in quiet) > 2
