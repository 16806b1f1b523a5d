"""Factorial designs of Jain (1991): chapter 17 (case 01a), 18 (01b), 21 (01c); NIST StRD analysis of variance (02c)."""

import numpy as np
import pytest

from evenhand.stats.factorial import MEAN, one_way, two_level, two_way


@pytest.mark.parametrize("name", ["01a-jain-2x2", "01b-jain-2x2-r3"])
def test_effects_and_allocation_of_variation(reference, name):
    case = reference(name)
    expected = case["expected"]
    found = two_level(case["inputs"]["y"], case["inputs"]["factors"], case["inputs"]["confidence"])
    assert {f"q{k or 0}": v for k, v in found.effects.items()} == pytest.approx(expected["effects"], rel=1e-10)
    squares = {("SSE" if k == "error" else k): v for k, v in found.sums_of_squares.items()}
    assert squares == pytest.approx({k: expected["sum_of_squares"][k] for k in squares}, rel=1e-10, abs=1e-9)
    assert {k: 100 * v for k, v in found.shares.items()} == pytest.approx(expected["percent_of_variation"], abs=1e-9)


@pytest.mark.parametrize("confidence", ["0.80", "0.90", "0.95"])
def test_intervals_of_effects(reference, confidence):
    case = reference("01b-jain-2x2-r3")
    expected = case["expected"]
    found = two_level(case["inputs"]["y"], case["inputs"]["factors"], float(confidence))
    assert (found.df_error, found.sd_error, found.sd_effect) == pytest.approx(
        (expected["df_error"], expected["sd_error"], expected["sd_effect"]), rel=1e-10
    )
    for name, interval in found.intervals.items():
        assert interval == pytest.approx(expected["intervals"][confidence]["effects"][f"q{name or 0}"], rel=1e-9)


def test_without_replicates_nothing_is_certain():
    found = two_level([[15], [45], [25], [75]], ["A", "B"])
    assert found.effects[MEAN] == 40
    assert found.intervals["A"] == (-np.inf, np.inf)
    assert np.isnan(found.sd_effect)
    with pytest.raises(ValueError, match="need 4 rows"):
        two_level([[1], [2], [3]], ["A", "B"])


def test_three_factors_give_back_what_was_put_in():
    """A table built from chosen effects returns them, interactions included."""
    signs = np.array([[1 if row >> bit & 1 else -1 for bit in range(3)] for row in range(8)])
    y = 10 + 3 * signs[:, 0] - 2 * signs[:, 2] + 0.5 * signs[:, 0] * signs[:, 1] * signs[:, 2]
    found = two_level(y[:, None], ["cores", "memory", "limit"])
    assert {k: v for k, v in found.effects.items() if abs(v) > 1e-12} == pytest.approx(
        {"": 10, "cores": 3, "limit": -2, "coresmemorylimit": 0.5}
    )


def test_processors_by_workloads(reference):
    case = reference("01c-jain-cache-by-workload")
    e, found = case["expected"], two_way(case["inputs"]["y"])
    assert found.mean == pytest.approx(e["grand_mean"])
    np.testing.assert_allclose(found.columns, e["column_effects"], rtol=1e-10)
    np.testing.assert_allclose(found.rows, e["row_effects"], rtol=1e-10)
    np.testing.assert_allclose(found.residuals, e["residuals"], rtol=1e-10, atol=1e-9)
    squares = e["sum_of_squares"]
    assert (found.ss_columns, found.ss_rows, found.ss_error) == pytest.approx(
        (squares["SSA_columns"], squares["SSB_rows"], squares["SSE"]), rel=1e-10
    )
    assert (found.f_columns, found.p_columns, found.f_rows, found.p_rows) == pytest.approx(
        (e["F_columns"], e["p_columns"], e["F_rows"], e["p_rows"]), rel=1e-9
    )
    assert (found.sd_error, found.sd_column, found.sd_row) == pytest.approx(
        (e["sd_error"], e["sd_column_effect"], e["sd_row_effect"]), rel=1e-10
    )
    for printed in case["published"]:
        section, *where = printed["path"].split("/")
        value = {
            "grand_mean": found.mean,
            "column_effects": found.columns,
            "row_effects": found.rows,
            "residuals": found.residuals,
        }
        cell = np.asarray(value[section])[tuple(int(i) for i in where)]
        assert cell == pytest.approx(printed["value"], abs=printed["tolerance"] * 1.001)


@pytest.mark.parametrize("name", ["SiRstv", "SmLs01", "SmLs02", "SmLs04", "SmLs07", "SmLs08"])
def test_nist_certified_analysis_of_variance(reference, name):
    case = reference("02c-nist-anova")
    (data,) = (d for d in case["inputs"]["datasets"] if d["dataset"] == name)
    expected = case["expected"][name]
    found = one_way([values_of(g) for g in data["groups"]])
    assert (found.df_between, found.df_within) == (expected["df_between"], expected["df_within"])
    got = {
        "between_sum_sq": found.ss_between,
        "within_sum_sq": found.ss_within,
        "F": found.f,
        "r_squared": found.r2,
        "residual_sd": found.sd_error,
    }
    for key, value in got.items():
        assert value == pytest.approx(expected[key]["certified"], rel=expected[key]["tolerance"])


def values_of(group):
    if "values" in group:
        return group["values"]
    recipe = group["values_recipe"]
    return [recipe["first"], *(recipe["then_alternate"] * recipe["pairs"])]


def test_no_error_makes_an_effect_certain():
    assert one_way([[1, 1], [2, 2]]).p == 0.0
    assert np.isnan(one_way([[1, 1], [1, 1]]).p)
    with pytest.raises(ValueError, match="two groups"):
        one_way([[1, 2]])
