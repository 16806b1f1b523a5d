"""Factorial designs of Jain (1991) as the program judges them: chapter 17 (case 01a), 18 (01b), 21 (01c).

Jain codes a factor's levels −1 and +1, so his q is half of what changes from the low level to the high one. `Effect` states the
change itself: a main effect is 2 q, an interaction of two, (d − c) − (b − a), is 4 q. Replicates serve as visits of one title.
"""

import numpy as np
import pytest
from judged import judged, printed
from scipy import stats

from evenhand.judging.model import Verdict
from evenhand.measures.model import Scale

SIGN = ("-1", "+1")
#: Factors of an effect -> (Jain's name for it, our estimate / his q).
EFFECTS = {("A",): ("qA", 2), ("B",): ("qB", 2), ("A", "B"): ("qAB", 4)}


def two_by_two(case, **design):
    """Cells in Yates order: the first factor changes fastest."""
    names = {f"{a}{b}": {"A": SIGN[a], "B": SIGN[b]} for b in (0, 1) for a in (0, 1)}
    cells = {("workstation", name): values for name, values in zip(names, case["inputs"]["y"], strict=True)}
    return judged(cells, Scale.DIFFERENCE, levels=names, factors={"A": SIGN, "B": SIGN}, **design)


def at_the_title(found):
    return {e.factors: e for e in found.effects if e.title == "workstation"}


@pytest.mark.parametrize("name", ["01a-jain-2x2", "01b-jain-2x2-r3"])
def test_effects(reference, name):
    case = reference(name)
    expected = case["expected"]["effects"]
    found = two_by_two(case)
    effects = at_the_title(found)
    assert {q: effects[factors].estimate / times for factors, (q, times) in EFFECTS.items()} == pytest.approx(
        {q: expected[q] for q, _ in EFFECTS.values()}, rel=1e-10
    )
    assert np.mean([cell.value for cell in found.cells]) == pytest.approx(expected["q0"], rel=1e-10)
    # With one title, what holds over titles is what holds at it.
    over = {e.factors: e.estimate for e in found.effects if e.title is None}
    assert over == pytest.approx({factors: e.estimate for factors, e in effects.items()})


@pytest.mark.parametrize("confidence", ["0.80", "0.90", "0.95"])
def test_intervals_of_effects(reference, confidence):
    """The error of one title without rounds is that between replicates, on 2² (r − 1) degrees of freedom."""
    case = reference("01b-jain-2x2-r3")
    expected = case["expected"]
    found = two_by_two(case, confidence=float(confidence))
    assert (found.noise.shift_df, found.noise.shift) == pytest.approx((expected["df_error"], expected["sd_error"]), rel=1e-10)
    for factors, effect in at_the_title(found).items():
        q, times = EFFECTS[factors]
        assert (effect.df, effect.se / times) == pytest.approx((expected["df_error"], expected["sd_effect"]), rel=1e-10)
        ends = (effect.pointwise.low / times, effect.pointwise.high / times)
        assert ends == pytest.approx(expected["intervals"][confidence]["effects"][q], rel=1e-9)
        for i, end in enumerate(ends):
            value, tolerance = printed(case).get(f"intervals/{confidence}/effects/{q}/{i}", (end, 0.0))
            assert end == pytest.approx(value, abs=tolerance)


def test_without_replicates_nothing_is_certain(reference):
    """01a has one value a cell: estimates, but neither interval nor verdict."""
    for effect in at_the_title(two_by_two(reference("01a-jain-2x2"))).values():
        assert (effect.pointwise.low, effect.pointwise.high) == (-np.inf, np.inf)
        assert effect.verdict is Verdict.UNTOLD


def caches_by_workloads(case, visits):
    """Workloads as titles, caches as setups."""
    inputs = case["inputs"]
    cells = {
        (row, column): [y] * visits
        for row, ys in zip(inputs["rows"], inputs["y"], strict=True)
        for column, y in zip(inputs["columns"], ys, strict=True)
    }
    return judged(cells, Scale.DIFFERENCE)


def test_caches_over_workloads(reference):
    """A difference over titles is that of two column effects; what a title's difference has beyond it, that of two residuals."""
    case = reference("01c-jain-cache-by-workload")
    rows, columns = case["inputs"]["rows"], case["inputs"]["columns"]
    found = caches_by_workloads(case, visits=1)
    told = printed(case)
    effects, residuals = case["expected"]["column_effects"], np.array(case["expected"]["residuals"])
    over = {(o.setup, o.against): o.estimate for o in found.over}
    assert len(over) == 3
    for (setup, against), estimate in over.items():
        i, j = columns.index(setup), columns.index(against)
        assert estimate == pytest.approx(effects[i] - effects[j], rel=1e-10)
        (one, near), (other, near_other) = told[f"column_effects/{i}"], told[f"column_effects/{j}"]
        assert estimate == pytest.approx(one - other, abs=near + near_other)
    for c in found.comparisons:
        row = residuals[rows.index(c.title)]
        beyond = row[columns.index(c.setup)] - row[columns.index(c.against)]
        assert c.estimate - over[c.setup, c.against] == pytest.approx(beyond, rel=1e-9, abs=1e-9)


def test_spread_of_caches_between_workloads(reference):
    """Jain takes the interaction for error: a difference of columns has the variance 2 MSE / b on (a − 1)(b − 1) degrees of
    freedom. For titles like these a pair has its own variance, on b − 1; the mean over the three pairs is his. Every value is
    told twice here, so that nothing is left to the visits.
    """
    case = reference("01c-jain-cache-by-workload")
    expected = case["expected"]
    found = caches_by_workloads(case, visits=2)
    assert found.noise.shift == pytest.approx(0)
    assert [o.df_like for o in found.over] == pytest.approx([expected["df"]["rows"]] * 3)
    variance = np.mean([o.se_like**2 for o in found.over])
    assert np.sqrt(variance) == pytest.approx(expected["sd_difference_of_columns"], rel=1e-9)
    between = np.mean([o.tau**2 for o in found.over])
    assert between == pytest.approx(2 * expected["mean_square_error"], rel=1e-6)


def test_intervals_for_workloads_like_these_and_for_one_more(reference):
    """Nothing left to the visits: for workloads like these the one-sample t of SciPy on the differences; for one not tested the
    prediction interval of a normal sample, S √(1 + 1/b), with b − 2 degrees of freedom (Higgins, Thompson & Spiegelhalter 2009).
    """
    case = reference("01c-jain-cache-by-workload")
    y, columns = np.array(case["inputs"]["y"], float), case["inputs"]["columns"]
    for o in caches_by_workloads(case, visits=2).over:
        d = y[:, columns.index(o.setup)] - y[:, columns.index(o.against)]
        like = stats.ttest_1samp(d, 0).confidence_interval(0.95)
        assert (o.like.low, o.like.high) == pytest.approx((like.low, like.high), rel=1e-9)
        half = stats.t.ppf(0.975, d.size - 2) * d.std(ddof=1) * np.sqrt(1 + 1 / d.size)
        assert (o.prediction.low, o.prediction.high) == pytest.approx((d.mean() - half, d.mean() + half), rel=1e-6)
