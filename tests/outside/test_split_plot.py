"""Split-plot studies: setups on whole plots (visits), titles on sub-plots. Values of Kenward–Roger and strata analyses in R
(cases 05a, 05b, 05e, 05f; their sources are named in the files).
"""

import numpy as np
import pytest
from judged import judged

from evenhand.judging.analysis import analyse
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.judging.noise import contrast_weights, estimates, visit_noise
from evenhand.judging.over import over_titles
from evenhand.judging.pairs import comparisons
from evenhand.judging.visits import Visits
from evenhand.measures.model import Better, Measure, Scale


def table(inputs, replicate):
    """(sub-plots, whole-plot levels, replicates) of the case's rows."""
    names = [inputs["sub_plot_levels"], inputs["whole_plot_levels"], sorted(set(inputs[replicate]))]
    columns = [inputs["sub_plot_factor"], inputs["whole_plot_factor"], inputs[replicate]]
    cells = np.full([len(n) for n in names], np.nan)
    for y, *at in zip(inputs["y"], *columns, strict=True):
        cells[tuple(n.index(a) for n, a in zip(names, at, strict=True))] = y
    return cells


def as_cells(table, case):
    """(sub-plot, whole-plot level) -> values, one a replicate: titles, setups and visits."""
    inputs = case["inputs"]
    names = [(t, s) for t in inputs["sub_plot_levels"] for s in inputs["whole_plot_levels"]]
    return dict(zip(names, table.reshape(len(names), -1).tolist(), strict=True))


def noise_of(cells, rounds):
    layout = layout_of(np.ones(cells.shape, dtype=bool), rounds)
    means = layout.pick(cells)[None]
    return layout, means, visit_noise(layout, means)


def whole_plot_contrasts(layout, means, noise):
    pairs = np.array([[1.0, -1, 0], [1, 0, -1], [0, 1, -1]])
    titles = layout.shape[0]
    return estimates(layout, noise, means, contrast_weights(layout, np.full((3, titles), 1 / titles), pairs))


@pytest.mark.parametrize(
    ("name", "replicate", "rounds"), [("05a-split-plot-oats", "block", True), ("05b-split-plot-corrosion", "replicate", False)]
)
def test_both_strata_and_the_contrasts_of_the_hard_factor(reference, name, replicate, rounds):
    case = reference(name)
    layout, means, noise = noise_of(table(case["inputs"], replicate), rounds)
    strata = case["expected"]["anova_strata"]
    titles = layout.shape[0]
    assert noise.total[0] * titles == pytest.approx(strata["whole_plot"]["mean_sq"][-1], rel=1e-9)
    assert noise.total_df == pytest.approx(strata["whole_plot"]["df"][-1])
    assert noise.raw[0].mean() == pytest.approx(strata["within"]["mean_sq"][-1], rel=1e-9)
    assert layout.own_df.sum() * (titles - 1) / titles == pytest.approx(strata["within"]["df"][-1])
    found, expected = whole_plot_contrasts(layout, means, noise), case["expected"]["contrasts_whole_plot_factor"]
    np.testing.assert_allclose(found.estimate[0], expected["estimate"], rtol=1e-9)
    np.testing.assert_allclose(found.se[0], expected["se"], rtol=1e-6)
    np.testing.assert_allclose(found.df[0], expected["df"], rtol=1e-6)


@pytest.mark.parametrize(
    ("name", "replicate", "rounds"), [("05a-split-plot-oats", "block", True), ("05b-split-plot-corrosion", "replicate", False)]
)
def test_the_judgement_over_titles_is_that_of_mixed_model_software(reference, name, replicate, rounds):
    """Through `judge`: estimate, standard error, Kenward-Roger degrees of freedom and p of every pair of whole-plot levels."""
    case = reference(name)
    found = judged(as_cells(table(case["inputs"], replicate), case), Scale.DIFFERENCE, rounds=rounds)
    expected = case["expected"]["contrasts_whole_plot_factor"]
    rows = {frozenset(c.split(" - ")): i for i, c in enumerate(expected["contrast"])}
    assert len(found.over) == len(rows)
    for o in found.over:
        i = rows[frozenset((o.setup, o.against))]
        assert abs(o.estimate) == pytest.approx(abs(expected["estimate"][i]), rel=1e-9)
        assert (o.se_these, o.df_these) == pytest.approx((expected["se"][i], expected["df"][i]), rel=1e-6)
        assert o.p_value == pytest.approx(expected["p"][i], rel=1e-6)


@pytest.mark.parametrize(
    ("name", "replicate", "rounds"), [("05a-split-plot-oats", "block", True), ("05b-split-plot-corrosion", "replicate", False)]
)
def test_the_judgement_at_titles_has_the_mixed_models_variance_in_the_mean(reference, name, replicate, rounds):
    """Setups within a title. The mixed model gives all titles one residual; here each has its own, drawn towards the others', so
    the mean of the variances is compared, to 3 %, and the mean degrees of freedom lie on the safe side of Kenward-Roger's.
    """
    case = reference(name)
    found = judged(as_cells(table(case["inputs"], replicate), case), Scale.DIFFERENCE, rounds=rounds).comparisons
    expected = case["expected"]["contrasts_whole_plot_within_sub_plot"]
    assert sorted(abs(c.estimate) for c in found) == pytest.approx(sorted(np.abs(expected["estimate"])), rel=1e-9, abs=1e-9)
    assert np.mean([c.se**2 for c in found]) == pytest.approx(expected["se"][0] ** 2, rel=0.03)
    assert 0.7 * expected["df"][0] < np.mean([c.df for c in found]) < 1.01 * expected["df"][0]


def test_variance_components_equal_reml_where_balanced(reference):
    """With the titles' noise alike, the shift is REML's whole-plot component."""
    case = reference("05b-split-plot-corrosion")
    layout, _, noise = noise_of(table(case["inputs"], "replicate"), rounds=False)
    reml = case["expected"]["reml_variance_components"]
    alike = noise.total[0] - noise.raw[0].mean() / layout.shape[0]
    assert alike == pytest.approx(reml["whole_plot"], rel=1e-4)
    assert noise.raw[0].mean() == pytest.approx(reml["residual"], rel=1e-4)


def test_a_block_below_the_whole_plot_error_is_told_by_showing_both_analyses(reference):
    """With replicates as rounds the whole-plot mean square is 6829 on 2 df, without 4813 on 3 df."""
    case = reference("05e-split-plot-negative-component")
    cells = table(case["inputs"], "block")
    _, _, blocked = noise_of(cells, rounds=True)
    _, _, plain = noise_of(cells, rounds=False)
    stratum = case["expected"]["anova_strata"]["whole_plot"]
    assert blocked.total[0] * 4 == pytest.approx(stratum["mean_sq"][1], rel=1e-9)
    assert blocked.total_df == pytest.approx(2)
    assert plain.total[0] * 4 == pytest.approx(4813.20833333333, rel=1e-9)
    assert plain.total_df == pytest.approx(3)
    assert blocked.shift[0] >= 0 and plain.shift[0] >= 0
    for rounds, mean_square, df in ((True, stratum["mean_sq"][1], 2), (False, 4813.20833333333, 3)):
        for o in judged(as_cells(cells, case), Scale.DIFFERENCE, rounds=rounds).over:
            assert (o.se_these**2, o.df_these) == pytest.approx((2 * mean_square / 8, df), rel=1e-9)


def test_treatments_against_the_interaction_with_units(reference):
    """05f: for units like these a difference has the variance 2 MS(treatment × unit) / (units × runs); here pair by pair, so the
    mean of the three squared errors is the case's. The runs of a worker serve as its visits.
    """
    case = reference("05f-mixed-machines")
    inputs = case["inputs"]
    means = np.full((6, 3, 3), np.nan)
    seen = np.zeros((6, 3), dtype=int)
    for y, machine, worker in zip(inputs["y"], inputs["treatment"], inputs["unit"], strict=True):
        at = int(worker) - 1, "ABC".index(machine)
        means[(*at, seen[at])] = y
        seen[at] += 1
    measure = Measure("score", "Score", "points", Better.HIGHER, Scale.DIFFERENCE, 1.0, "", "")
    workers = tuple(inputs["unit_levels"])
    visits = Visits(measure, workers, means, np.ones(means.shape, dtype=np.intp), None, 0.0, ())
    analysis = analyse(visits, Design(("A", "B", "C"), "A", (measure,)), rounds=False)
    over = over_titles(analysis, comparisons(analysis))
    expected = case["expected"]["contrasts"]
    np.testing.assert_allclose([-o.estimate for o in over], expected["estimate"], rtol=1e-9)
    from_units = [o.se_like**2 - 2 / 3 * analysis.noise.shift[0] for o in over]
    assert np.sqrt(np.mean(from_units)) == pytest.approx(expected["se"][0], rel=1e-6)
