"""Heavy-tailed partial pooling, against the normal kind where that is right and against it where it is not."""

import numpy as np
import pytest

from evenhand.stats.heavy_tails import draws, pool
from evenhand.stats.meta import random_effects

NOISE = 0.01


def problems(effects, seed=1):
    """(information, weighted, measured) of effects (M, T, J) seen with noise of 1 %."""
    seen = effects + NOISE * np.random.default_rng(seed).standard_normal(effects.shape)
    return np.broadcast_to(np.eye(effects.shape[-1]) / NOISE**2, (*effects.shape, effects.shape[-1])), seen / NOISE**2, seen


def rmse(wrong):
    return float(np.sqrt(np.mean(wrong**2)))


def collapsing(studies=40, titles=40, seed=3):
    """Most titles within 0.4 % of each other, one in ten loses about a fifth."""
    rng = np.random.default_rng(seed)
    effects = 0.004 * rng.standard_normal((studies, titles, 1))
    effects[:, : titles // 10] -= rng.uniform(0.1, 0.3, (studies, titles // 10, 1))
    return effects


def test_a_collapsed_title_keeps_its_value_and_level_ones_are_drawn_together():
    effects = collapsing()
    information, weighted, seen = problems(effects)
    found = pool(information, weighted).effects
    fallen, level = found[:, :4] - seen[:, :4], found[:, 4:] - effects[:, 4:]
    assert np.abs(fallen).max() < 0.1 * 0.1  # of the least collapse
    assert rmse(level) < 0.55 * NOISE


def test_normal_pooling_does_neither():
    effects = collapsing()
    _, _, seen = problems(effects)
    normal = np.stack([random_effects(y[:, 0], np.full(40, NOISE**2)).shrunken for y in seen])
    heavy = pool(*problems(effects)[:2]).effects[..., 0]
    assert rmse(normal[:, 4:] - effects[:, 4:, 0]) > 0.9 * NOISE
    assert rmse(heavy - effects[..., 0]) < 0.65 * rmse(normal - effects[..., 0])


def test_normal_titles_are_pooled_as_well_as_normal_pooling_does():
    effects = 0.01 * np.random.default_rng(5).standard_normal((60, 20, 1))
    information, weighted, seen = problems(effects)
    normal = np.stack([random_effects(y[:, 0], np.full(20, NOISE**2)).shrunken for y in seen])
    assert rmse(pool(information, weighted).effects - effects) < 1.05 * rmse(normal - effects[..., 0])


def test_titles_that_are_all_alike_are_one():
    effects = np.full((40, 12, 2), 0.03)
    information, weighted, seen = problems(effects)
    assert rmse(pool(information, weighted).effects - effects) < 0.5 * rmse(seen - effects)


@pytest.mark.parametrize("titles", [3, 8, 20])
def test_draws_cover(titles):
    """95 % intervals of draws, normal titles: 400 titles and more, Monte Carlo error under 1.6 points (clustered by study)."""
    rng = np.random.default_rng(8)
    effects = 0.02 * rng.standard_normal((120, titles, 1))
    information, weighted, _ = problems(effects, 9)
    hits = []
    for study in range(120):
        drawn = draws(pool(information[study], weighted[study]), 500, rng)
        low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
        hits.append((low <= effects[study]) & (effects[study] <= high))
    assert 0.90 < np.mean(hits) < 0.985


def test_draws_agree_with_the_stated_mean_and_covariance():
    information, weighted, _ = problems(collapsing(1))
    found = pool(information[0], weighted[0])
    drawn = draws(found, 6000, np.random.default_rng(2))
    sd = np.sqrt(found.covariance[:, 0, 0])
    assert np.abs(drawn.mean(axis=0) - found.effects)[:, 0].max() < 0.25 * sd.max()
    assert drawn.std(axis=0)[:, 0] == pytest.approx(sd, rel=0.2)


def test_many_problems_at_once_are_solved_as_each_by_itself():
    information, weighted, _ = problems(0.02 * np.random.default_rng(4).standard_normal((3, 6, 2)))
    together = pool(information, weighted).effects
    for i in range(3):
        assert pool(information[i], weighted[i]).effects == pytest.approx(together[i], rel=1e-6, abs=1e-9)


def test_a_direction_of_which_a_title_knows_nothing_comes_from_the_others():
    effects = np.tile([0.05, -0.02], (1, 10, 1))
    information, weighted, _ = problems(effects)
    information = information.copy()
    information[0, 3, 1, 1], weighted[0, 3, 1] = 0.0, 0.0
    assert pool(information, weighted).effects[0, 3, 1] == pytest.approx(-0.02, abs=0.01)
