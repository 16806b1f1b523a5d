"""Partially pooled contrasts and draws from them, on tables of runs."""

from dataclasses import replace

import numpy as np
import pytest
from invented_runs import RATE, design, study
from scipy import stats

from evenhand.judging.advice.draws import draw
from evenhand.judging.advice.pooling import contrast_basis, pooled
from evenhand.judging.analysis import analyse
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means


def cells(rows, rounds=False, **more):
    asked = design(**more)
    return pooled([analyse(visit_means(read_runs(rows, asked), RATE, asked), asked, rounds)])[0]


def fallen(rows, title="title 0", setup="C", share=0.8):
    return [replace(r, value=r.value * share) if (r.title, r.setup) == (title, setup) else r for r in rows]


def test_a_collapsed_title_is_not_drawn_towards_the_others():
    found = cells(fallen(study(titles=12, noise=0.02, effects=(0.0,) * 4)))
    assert found.raw[0, 2] == pytest.approx(np.log(0.8), abs=0.05)
    assert found.estimate[0, 2] == pytest.approx(found.raw[0, 2], abs=0.02)
    assert found.estimate[1:, 2].std() < 0.6 * found.raw[1:, 2].std()


@pytest.mark.parametrize("rounds", [False, True])
def test_the_baseline_s_own_contrast_is_nothing(rounds):
    found = cells(study(), rounds)
    assert found.baseline == "A" and np.all(found.estimate[:, 0] == 0)
    assert np.all(found.own[:, 0] == 0) and np.all(found.shared[0] == 0)
    assert np.all(draw(found, 20)[:, :, 0] == 0)


def test_the_choice_of_baseline_changes_nothing_else():
    rows = fallen(study(titles=8))
    from_a, from_c = cells(rows), cells(rows, setups="CABD")
    order = [from_c.setups.index(s) for s in from_a.setups]
    turned = from_c.estimate[:, order] - from_c.estimate[:, [order[0]]]
    assert turned == pytest.approx(from_a.estimate, abs=2e-4)


def test_a_visit_shift_is_common_to_all_titles():
    """Twenty titles whose visits shift together by 3 %: the mean over titles is no surer than the visits let it be."""
    found = cells(study(titles=20, noise=0.002, shift=0.03, effects=(0.0, 0.0)), setups="AB")
    drawn = draw(found, 4000)[:, :, 1]
    assert np.corrcoef(drawn[:, 0], drawn[:, 1])[0, 1] > 0.95
    assert found.shared[1, 1] > 50 * found.own[:, 1, 1].max()
    low, high = np.quantile(drawn.mean(axis=1), [0.025, 0.975])
    assert high - low > 2 * 1.96 * np.sqrt(found.shared[1, 1])  # few degrees of freedom: wider than normal


def test_one_title_draws_student_s_t():
    found = cells(study(titles=1, visits=3))
    drawn = draw(found, 20_000)[:, 0, 1]
    expected = stats.t(found.total_df, found.raw[0, 1], np.sqrt(found.shared[1, 1])).ppf([0.05, 0.5, 0.95])
    assert np.quantile(drawn, [0.05, 0.5, 0.95]) == pytest.approx(expected, abs=0.05 * (expected[2] - expected[0]))


def test_a_missing_cell_is_filled_from_the_other_titles_and_less_sure():
    rows = [r for r in study(titles=8, noise=0.02) if (r.title, r.setup) != ("title 3", "C")]
    found = cells(rows)
    assert not found.present[3, 2] and np.isnan(found.raw[3, 2])
    assert found.estimate[3, 2] == pytest.approx(found.estimate[:, 2].mean(), abs=0.02)
    assert found.own[3, 2, 2] > found.own[4, 2, 2]


def test_a_title_without_the_baseline_is_kept():
    rows = [r for r in study(titles=6) if (r.title, r.setup) != ("title 2", "A")]
    found = cells(rows)
    assert found.titles[2] == "title 2" and np.isfinite(found.estimate[2]).all() and np.isnan(found.raw[2]).all()


def test_one_visit_a_setup_is_not_pooled():
    assert cells(study(visits=1)) is None


def test_the_same_seed_draws_the_same():
    found = cells(study())
    assert np.array_equal(draw(found, 50, 3), draw(found, 50, 3)) and not np.array_equal(draw(found, 50, 3), draw(found, 50, 4))


@pytest.mark.parametrize("setups", [2, 3, 6])
def test_the_directions_are_orthonormal_and_free_of_what_setups_share(setups):
    basis = contrast_basis(setups)
    assert basis.T @ basis == pytest.approx(np.eye(setups - 1)) and basis.sum(axis=0) == pytest.approx(0)
