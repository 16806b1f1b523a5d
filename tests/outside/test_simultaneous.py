"""Simultaneous intervals: PlantGrowth (Dobson 1983) and warpbreaks (Tippett 1950; Tukey 1977) as Tukey's method and single-step
max-t give them in R (cases 07a, 07b); the studentised range of SciPy at other sizes and degrees of freedom; Tukey's
method as SciPy and the library statsmodels have it; unequal numbers beside Kramer's form (Hayter 1984).
"""

import numpy as np
import pytest
from judged import judged
from scipy import stats
from statsmodels.stats import multicomp

from evenhand.measures.model import Scale
from evenhand.stats import maxt


def pair_correlation(means):
    rows = np.array([np.eye(means)[b] - np.eye(means)[a] for a in range(means) for b in range(a + 1, means)])
    return rows @ rows.T / 2


def test_tukey_intervals_of_plant_growth(reference):
    """Through the whole judgement: groups are setups of one title, plants their visits."""
    case = reference("07a-simultaneous-plant-growth")
    inputs, expected = case["inputs"], case["expected"]
    groups = {
        ("plants", level): [y for y, g in zip(inputs["y"], inputs["group"], strict=True) if g == level]
        for level in inputs["levels"]
    }
    found = judged(groups, Scale.DIFFERENCE)
    assert (found.noise.shift**2, found.noise.shift_df) == pytest.approx(
        (expected["anova"]["mean_sq"][1], expected["anova"]["df"][1]), rel=1e-9
    )
    tukey, alone = expected["tukey_kramer"], expected["unadjusted_pairs"]["p"]
    assert [f"{c.setup}-{c.against}" for c in found.comparisons] == tukey["contrast"]
    np.testing.assert_allclose([c.estimate for c in found.comparisons], tukey["estimate"], rtol=1e-9)
    np.testing.assert_allclose([c.simultaneous.low for c in found.comparisons], tukey["ci_low"], rtol=1e-4)
    np.testing.assert_allclose([c.simultaneous.high for c in found.comparisons], tukey["ci_high"], rtol=1e-4)
    np.testing.assert_allclose([c.p_value for c in found.comparisons], alone, rtol=1e-8)


def critical_at(p, correlation, df):
    """The critical value at which a single-step p value is exceeded."""
    return float(maxt.quantile(correlation, df, 1 - p))


def holds_p(case, correlation, df):
    """|t| lies between the critical values at p ± 1e-3: quasi-random integration on both sides, as the case allows."""
    for t, p in zip(case["t"], case.get("p_single_step", case.get("p")), strict=True):
        assert p < 2e-3 or abs(t) <= critical_at(p - 1e-3, correlation, df)
        assert p > 1 - 2e-3 or abs(t) >= critical_at(p + 1e-3, correlation, df)


def test_single_step_p_and_critical_value(reference):
    """2e-3 relative on the critical value, as the case says."""
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_all_pairs"]
    holds_p(case, pair_correlation(3), 27)
    assert maxt.quantile(pair_correlation(3), 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)


def test_comparisons_with_the_first_only(reference):
    case = reference("07a-simultaneous-plant-growth")["expected"]["single_step_max_t_versus_first"]
    correlation = np.array([[1, 0.5], [0.5, 1]])
    assert maxt.quantile(correlation, 27, 0.95) == pytest.approx(case["critical_value"], rel=2e-3)
    holds_p(case, correlation, 27)


def test_two_families_of_pairs_at_once(reference):
    """07b: three pairs within each of two wools, independent of each other."""
    case = reference("07b-simultaneous-warpbreaks")["expected"]["simple_effects_of_B_max_t_over_all"]
    correlation = np.kron(np.eye(2), [[1, 0.5, -0.5], [0.5, 1, 0.5], [-0.5, 0.5, 1]])
    half = maxt.quantile(correlation, 48, 0.95) * case["se"][0]
    np.testing.assert_allclose(half, (np.array(case["ci_high"]) - case["ci_low"]) / 2, rtol=2e-3)
    holds_p(case, correlation, 48)


def test_simple_effects_within_each_family(reference):
    case = reference("07b-simultaneous-warpbreaks")["expected"]["simple_effects_of_B_tukey_within_A"]
    half = maxt.pairs_quantile(3, 48, 0.95) * case["se"][0]
    np.testing.assert_allclose(half, (np.array(case["ci_high"]) - case["ci_low"]) / 2, rtol=1e-4)


def warpbreaks(reference):
    """07b as a study: wool and tension are factors, their six combinations the setups of one title, the nine looms visits."""
    inputs = reference("07b-simultaneous-warpbreaks")["inputs"]
    cells = {}
    for y, wool, tension in zip(inputs["y"], inputs["A"], inputs["B"], strict=True):
        cells.setdefault(("loom", wool + tension), []).append(y)
    levels = {setup: {"wool": setup[0], "tension": setup[1]} for _, setup in cells}
    return judged(cells, Scale.DIFFERENCE, levels=levels, factors={"wool": ("A", "B"), "tension": ("L", "M", "H")})


def test_error_and_simple_effects_of_warpbreaks(reference):
    """Through the whole judgement: mean square, and the six differences of tensions within a wool."""
    case = reference("07b-simultaneous-warpbreaks")["expected"]
    found = warpbreaks(reference)
    assert (found.noise.shift**2, found.noise.shift_df) == pytest.approx(
        (case["anova"]["mean_sq"][3], case["anova"]["df"][3]), rel=1e-9
    )
    simple = case["simple_effects_of_B_tukey_within_A"]
    pairs = {frozenset((c.setup, c.against)): c for c in found.comparisons}
    for name, estimate, se, df, t in zip(*(simple[k] for k in ("contrast", "estimate", "se", "df", "t")), strict=True):
        tensions, wool = name.split(" | ")
        c = pairs[frozenset(wool + tension for tension in tensions.split(" - "))]
        assert (abs(c.estimate), c.se, c.df) == pytest.approx((abs(estimate), se, df), rel=1e-9)
        assert c.p_value == pytest.approx(2 * stats.t.sf(abs(t), df), rel=1e-8)


def test_main_effect_of_tension_and_its_tukey_interval(reference):
    expected = reference("07b-simultaneous-warpbreaks")["expected"]["tukey_B_main_effect"]
    main = {e.levels[0]: e for e in warpbreaks(reference).effects if e.factors == ("tension",) and e.title is not None}
    for i, levels in enumerate([("M", "L"), ("H", "L")]):
        assert expected["contrast"][i] == "-".join(levels)
        effect = main[levels]
        assert effect.estimate == pytest.approx(expected["estimate"][i], rel=1e-9)
        half = float(maxt.pairs_quantile(3, effect.df, 0.95)) * effect.se
        low, high = expected["ci_low"][i], expected["ci_high"][i]
        assert (effect.estimate - half, effect.estimate + half) == pytest.approx((low, high), abs=2e-4 * (high - low))


def groups_of(sizes, seed):
    rng = np.random.default_rng(seed)
    return {("t", f"s{i}"): rng.normal(0.1 * i, 1.0, n).tolist() for i, n in enumerate(sizes)}


@pytest.mark.parametrize("sizes", [(4, 4), (3, 3, 3), (5, 5, 5, 5), (3,) * 6])
def test_all_pairs_are_those_of_two_general_libraries(sizes):
    """`tukey_hsd` of SciPy and `pairwise_tukeyhsd` of statsmodels on the same (drawn) values."""
    groups = groups_of(sizes, 4)
    found = judged(groups, Scale.DIFFERENCE).comparisons
    one = stats.tukey_hsd(*groups.values()).confidence_interval(0.95)
    names = np.repeat([s for _, s in groups], sizes)
    two = multicomp.pairwise_tukeyhsd(np.concatenate(list(groups.values())), names, alpha=0.05)
    bounds = {(str(b), str(a)): ends for a, b, *_, ends in zip(*np.triu_indices(len(sizes), 1), two.confint, strict=True)}
    for c in found:
        i, j = int(c.setup[1:]), int(c.against[1:])
        assert (c.simultaneous.low, c.simultaneous.high) == pytest.approx((one.low[i, j], one.high[i, j]), abs=2e-3)
        low, high = bounds[str(max(i, j)), str(min(i, j))]
        expected = (low, high) if i > j else (-high, -low)
        assert (c.simultaneous.low, c.simultaneous.high) == pytest.approx(expected, abs=5e-3)


@pytest.mark.parametrize("sizes", [(2, 5, 9), (3, 3, 8), (2, 3, 4, 9)])
def test_unequal_numbers_stay_just_inside_tukey_kramer(sizes):
    """Kramer's form covers at least as much as asked for (Hayter 1984), single-step max-t just as much: it is never wider, and
    narrower by 3 % at most.
    """
    groups = groups_of(sizes, 9)
    kramer = stats.tukey_hsd(*groups.values()).confidence_interval(0.95)
    for c in judged(groups, Scale.DIFFERENCE).comparisons:
        i, j = int(c.setup[1:]), int(c.against[1:])
        ratio = (c.simultaneous.high - c.simultaneous.low) / (kramer.high[i, j] - kramer.low[i, j])
        assert 0.97 < ratio < 1.002


@pytest.mark.parametrize("means", [2, 3, 4, 6])
@pytest.mark.parametrize("df", [1, 1.5, 2, 3.3, 7, 27, 60])
def test_quantiles_are_those_of_the_studentised_range(means, df):
    expected = stats.studentized_range.ppf(0.95, means, df) / np.sqrt(2)
    assert maxt.pairs_quantile(means, df, 0.95) == pytest.approx(expected, rel=1e-4)
    assert maxt.quantile(pair_correlation(means), df, 0.95) == pytest.approx(expected, rel=2e-3)


def test_two_means_are_students_t():
    df = np.array([1.0, 2.7, 12.0, 400.0])
    np.testing.assert_allclose(maxt.pairs_quantile(2, df, 0.9), stats.t.ppf(0.95, df), rtol=3e-4)


def test_the_same_quantile_every_time():
    correlation = np.array([[1, 0.3, 0.1], [0.3, 1, 0.7], [0.1, 0.7, 1]])
    maxt._general_curve.cache_clear()
    first = maxt.quantile(correlation, [2.5, 9.0], 0.95)
    maxt._general_curve.cache_clear()
    assert (first == maxt.quantile(correlation, [2.5, 9.0], 0.95)).all()
