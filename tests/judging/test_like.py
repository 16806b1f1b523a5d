"""From a study's titles to titles like these: what either part of the variance alone must give."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenhand.judging.critical import t_quantile
from evenhand.judging.layout import layout_of
from evenhand.judging.like import like_titles
from evenhand.judging.noise import visit_noise
from evenhand.stats.meta import between_variance, random_effects

RNG = np.random.default_rng(8)
EFFECTS = RNG.normal(0.02, 0.05, (4, 9))
VOTES = np.full(9, 1 / 9)


def noise_with(total, shift):
    layout = layout_of(np.ones((9, 3, 3), dtype=bool), False)
    noise = visit_noise(layout, layout.pick(RNG.normal(size=(4, 9, 3, 3))))
    return replace(noise, total=np.full(4, total), shift=np.full(4, shift))


def test_without_noise_between_visits_it_is_students_interval_of_the_titles():
    found = like_titles(noise_with(0.0, 0.0), EFFECTS, VOTES, 2 / 3, np.zeros(4))
    for s, effects in enumerate(EFFECTS):
        theirs = stats.ttest_1samp(effects, 0.0).confidence_interval(0.95)
        half = t_quantile(found.df[s], 0.95) * found.se[s]
        assert (effects.mean() - half, effects.mean() + half) == pytest.approx((theirs.low, theirs.high))


def test_where_the_visits_shift_is_nearly_all_it_has_their_degrees_of_freedom():
    found = like_titles(noise_with(1e4, 1e4), EFFECTS, VOTES, 2 / 3, np.zeros(4))
    np.testing.assert_allclose(found.df, 6.0, rtol=1e-3)
    np.testing.assert_allclose(found.se, np.sqrt(2 / 3 * 1e4), rtol=1e-3)


def test_one_title_more_is_further_off_and_less_well_known():
    tau2 = np.full(4, 0.002)
    found = like_titles(noise_with(1e-4, 5e-5), EFFECTS, VOTES, 2 / 3, tau2)
    np.testing.assert_allclose(found.ahead_se**2 - found.se**2, tau2)
    assert (found.ahead_df < found.df).all()
    two = like_titles(noise_with(1e-4, 5e-5), EFFECTS[:, :2], np.full(2, 0.5), 2 / 3, tau2)
    assert np.isinf(two.ahead_se).all() and (two.ahead_df == 0).all()


def test_spreads_of_many_studies_at_once_are_those_one_by_one():
    noise = RNG.uniform(1e-4, 4e-3, EFFECTS.shape)
    single = [random_effects(y, v).tau2 for y, v in zip(EFFECTS, noise, strict=True)]
    np.testing.assert_allclose(between_variance(EFFECTS, noise), single, rtol=1e-9)
