"""Sample sizes of t tests (Cohen 1988, tables 2.3 and 2.4; R power.t.test: case 09a) and of showing equivalence (Hauschke,
Steinijans & Pigeot 2007, table 5.1; Chow & Liu 2009, table 5.4.1: case 09b), by the formulas that a rehearsal uses.
"""

import math

import pytest
from scipy import special
from statsmodels.stats.power import TTestPower

from evenhand.rehearsal.power import chance_ahead, chance_level, smallest

MOST = 2000


def t_test(case):
    """(chance of a significant result on the right side, on the wrong side) as functions of n."""
    tails = 2 if case["alternative"] == "two.sided" else 1
    two = case["type"] == "two.sample"

    def chance(n, sign):
        df = 2 * (n - 1) if two else n - 1
        se = case["sd"] * math.sqrt((2 if two else 1) / n)
        return chance_ahead(sign * case["delta"], se, df, float(special.stdtrit(df, 1 - case["alpha"] / tails)))

    return (lambda n: chance(n, 1)), (lambda n: chance(n, -1) if tails == 2 else 0.0)


def test_runs_needed_to_find_a_difference(reference):
    case = reference("09a-sample-size-t-tests")
    for name, inputs in case["inputs"]["cases"].items():
        expected = case["expected"][name]
        right, wrong = t_test(inputs)
        n = smallest(right, 2, MOST, inputs["power"])
        assert n == expected["n"], name
        assert right(n) + wrong(n) == pytest.approx(expected["power_at_n"], rel=1e-5)
        assert right(n - 1) + wrong(n - 1) == pytest.approx(expected["power_at_n_minus_1"], rel=1e-5)


def test_a_paired_test_has_the_power_that_statsmodels_gives():
    ours = chance_ahead(0.5, 1 / math.sqrt(20), 19, float(special.stdtrit(19, 0.95)))
    assert ours == pytest.approx(TTestPower().power(0.5, 20, 0.05, alternative="larger"), rel=1e-9)


def equivalence(case):
    """(chance of "equivalent" as a function of n, step of n); the ratio's limits as logarithms."""
    ratio = case["scale"] == "log-ratio"
    on_scale = math.log if ratio else float
    spread = math.sqrt(math.log1p(case["cv"] ** 2)) if ratio else case["sd"]
    each, lost, step = {"crossover_2x2": (2, 2, 2), "parallel": (4, 2, 2), "paired": (1, 1, 1)}[case["design"]]

    def chance(n):
        df = n - lost
        critical = float(special.stdtrit(df, 1 - case["alpha"]))
        return chance_level(
            on_scale(case["true"]), on_scale(case["low"]), on_scale(case["high"]), spread * math.sqrt(each / n), df, critical
        )

    return chance, step


def test_runs_needed_to_show_equivalence(reference):
    case = reference("09b-sample-size-equivalence")
    for name, inputs in case["inputs"]["cases"].items():
        expected = case["expected"][name]
        chance, step = equivalence(inputs)
        n = smallest(chance, 4, MOST, inputs["power"], step)
        assert n == expected["n_total"], name
        assert chance(n) == pytest.approx(expected["power_at_n"], rel=1e-6, abs=1e-8), name
        assert chance(n - step) == pytest.approx(expected["power_below"], rel=1e-6, abs=1e-8), name


def test_none_is_said_where_no_number_does():
    assert smallest(lambda n: n / 100, 2, 50) is None
    assert smallest(lambda n: n / 100, 2, 80) == 80
