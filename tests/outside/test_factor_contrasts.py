"""Factor effects of three and four factors, of incomplete designs, and along numeric levels, against least squares of the library
statsmodels with contrasts coded by its formula language (patsy); polynomials by numpy; critical values by SciPy's multivariate t.
"""

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from judged import judged
from scipy import stats

from evenhand.judging.contrasts import factor_contrasts
from evenhand.judging.model import Design
from evenhand.judging.trends import curve_lines
from evenhand.measures.model import Scale

NAMES = "uvwx"


def study(combos, visits, seed):
    """(setup -> factor -> level, setup -> values): one title, in which every effect is large."""
    rng = np.random.default_rng(seed)
    levels = {"".join(c): dict(zip(NAMES, c, strict=False)) for c in combos}
    return levels, {s: list(rng.normal(0, 3) + rng.normal(0, 1, visits)) for s in levels}


def found_of(levels, measured, factors, **design):
    return judged({("t", s): v for s, v in measured.items()}, Scale.DIFFERENCE, levels=levels, factors=factors, **design)


def effects_of(levels, measured, factors):
    return [e for e in found_of(levels, measured, factors).effects if e.title]


def frame(levels, values):
    return pd.DataFrame([{**levels[s], "y": y} for s, own in values.items() for y in own])


@pytest.mark.parametrize("count", [2, 3, 4])
def test_every_effect_of_two_levels(count):
    """Coded −1/2 and +1/2, a product of r columns has as its coefficient the difference of r differences, not halved."""
    factors = dict.fromkeys(NAMES[:count], ("a", "b"))
    levels, values = study(list(product("ab", repeat=count)), 3, count)
    found = {e.factors: e for e in effects_of(levels, values, factors)}
    assert len(found) == 2**count - 1
    data = frame(levels, values)
    coded = pd.DataFrame({f: (data[f] == "b") - 0.5 for f in factors} | {"y": data["y"]})
    fit = smf.ols("y ~ " + "*".join(factors), coded).fit()
    for chosen, effect in found.items():
        term = ":".join(chosen)
        assert effect.estimate == pytest.approx(fit.params[term], rel=1e-9)
        assert effect.se == pytest.approx(fit.bse[term], rel=1e-9)
        assert effect.df == pytest.approx(fit.df_resid)
        ends = fit.conf_int().loc[term]
        assert (effect.pointwise.low, effect.pointwise.high) == pytest.approx(tuple(ends), rel=1e-8)


def test_all_effects_hold_at_once():
    """Seven orthogonal contrasts: the largest of seven independent |t| with one error on 16 degrees of freedom."""
    factors = dict.fromkeys(NAMES[:3], ("a", "b"))
    levels, values = study(list(product("ab", repeat=3)), 3, 8)
    effects = effects_of(levels, values, factors)
    ratio = {round((e.simultaneous.high - e.estimate) / e.se, 6) for e in effects}
    assert len(ratio) == 1
    c = ratio.pop()
    inside = stats.multivariate_t(shape=np.eye(7), df=16, seed=1).cdf([c] * 7, lower_limit=[-c] * 7)
    assert inside == pytest.approx(0.95, abs=1e-3)


def test_three_levels_by_two():
    """Against the first level, mean over the other factor: treatment coding beside sum coding, and twice treatment coding."""
    factors = {"u": ("a", "b", "c"), "v": ("a", "b")}
    levels, values = study(list(product("abc", "ab")), 2, 5)
    found = {(e.factors, e.levels): e for e in effects_of(levels, values, factors)}
    fit = smf.ols("y ~ C(u, Treatment('a')) * C(v, Sum)", frame(levels, values)).fit()
    treated = smf.ols("y ~ C(u) * C(v)", frame(levels, values)).fit()
    for level in "bc":
        alone, term = found[("u",), ((level, "a"),)], f"C(u, Treatment('a'))[T.{level}]"
        assert (alone.estimate, alone.se) == pytest.approx((fit.params[term], fit.bse[term]), rel=1e-9)
        joint = found[("u", "v"), ((level, "a"), ("b", "a"))]
        assert joint.estimate == pytest.approx(treated.params[f"C(u)[T.{level}]:C(v)[T.b]"], rel=1e-9)


@pytest.mark.parametrize(
    ("factors", "combos"),
    [
        (dict.fromkeys("uvw", ("a", "b")), ["aaa", "abb", "bab", "bba"]),
        ({"u": ("a", "b", "c"), "v": ("a", "b", "c"), "w": ("a", "b")}, ["aaa", "bba", "bca", "cab", "ccb", "aab", "bbb"]),
    ],
    ids=["half of 2³", "a list"],
)
def test_unbalanced_additive_model(factors, combos):
    """No two setups differ in nothing but the first factor: its effects are those of the additive model."""
    levels, values = study(combos, 2, 7)
    fit = smf.ols("y ~ C(u) + C(v) + C(w)", frame(levels, values)).fit()
    additive = [e for e in effects_of(levels, values, factors) if e.additive]
    assert {e.factors[0] for e in additive} >= {"u"}
    for e in additive:
        assert e.estimate == pytest.approx(fit.params[f"C({e.factors[0]})[T.{e.levels[0][0]}]"], rel=1e-9)
        # The error is that between visits, not the misfit of the model.
        assert e.df == pytest.approx(len(combos))
        assert e.se == pytest.approx(fit.bse[f"C({e.factors[0]})[T.{e.levels[0][0]}]"] * error_of(values) / fit.mse_resid**0.5)


def error_of(values):
    """Standard deviation between visits, pooled over setups of as many visits each."""
    return float(np.mean([np.var(own, ddof=1) for own in values.values()]) ** 0.5)


def test_effects_that_cannot_be_told_are_those_of_a_singular_model():
    """Whether a main effect is estimable: whether adding its row to the model matrix raises the rank."""
    rng = np.random.default_rng(3)
    factors = {"u": ("a", "b"), "v": ("a", "b", "c"), "w": ("a", "b")}
    terms = [(f, level) for f, levels in factors.items() for level in levels[1:]]
    every = list(product("ab", "abc", "ab"))
    tried = 0
    for _ in range(100):
        chosen = [every[i] for i in rng.choice(len(every), rng.integers(3, 7), replace=False)]
        if any(len({c[i] for c in chosen}) < len(levels) for i, levels in enumerate(factors.values())):
            continue
        told = {(c.factors[0], c.levels[0][0]) for c in factor_contrasts(design_of(chosen, factors))[0] if len(c.factors) == 1}
        matrix = np.array([[1.0, *(float(c["uvw".index(f)] == level) for f, level in terms)] for c in chosen])
        for k, term in enumerate(terms, start=1):
            with_it = np.vstack([matrix, np.eye(matrix.shape[1])[k]])
            assert (term in told) == (np.linalg.matrix_rank(with_it) == np.linalg.matrix_rank(matrix)), (chosen, term)
        tried += 1
    assert tried > 30


def design_of(combos, factors):
    names = ["".join(c) for c in combos]
    levels = {n: dict(zip(factors, c, strict=True)) for n, c in zip(names, combos, strict=True)}
    return Design(tuple(names), names[0], (), levels, factors)


@pytest.mark.parametrize("values", [(5200.0, 6000.0, 6400.0), (2.0, 4.0, 6.0, 8.0), (45.0, 65.0, 95.0, 140.0, 200.0)])
def test_slope_and_bend_by_polynomials(values):
    """numpy's polynomial fit; the bend against the fit's own middle and ends."""
    x, y = np.array(values), np.random.default_rng(1).normal(0, 1, len(values))
    per_unit, bend, per_doubling = (float(line @ y) for line in curve_lines(x))
    assert per_unit == pytest.approx(np.polyfit(x, y, 1)[0], rel=1e-9)
    assert per_doubling == pytest.approx(np.polyfit(np.log2(x), y, 1)[0], rel=1e-9)
    fit = np.poly1d(np.polyfit(x, y, 2))
    assert bend == pytest.approx(fit((x[0] + x[-1]) / 2) - (fit(x[0]) + fit(x[-1])) / 2, rel=1e-7)


def test_trend_of_three_levels_and_its_intervals():
    """Steps and slope by statsmodels; the critical value over all pairs, slope and bend by plain simulation."""
    factors, numbers = {"u": ("a", "b", "c"), "v": ("a", "b")}, {"a": 5200.0, "b": 6000.0, "c": 6400.0}
    levels, values = study(list(product("abc", "ab")), 3, 9)
    (trend,) = [t for t in found_of(levels, values, factors, values={"u": numbers}).trends if t.title]
    fit = smf.ols("y ~ C(u, Treatment('a')) * C(v, Sum)", frame(levels, values)).fit()
    step = fit.t_test("C(u, Treatment('a'))[T.c] - C(u, Treatment('a'))[T.b] = 0")
    assert trend.steps[1].estimate == pytest.approx(float(step.effect[0]), rel=1e-9)
    assert trend.steps[1].se == pytest.approx(float(np.squeeze(step.sd)), rel=1e-9)
    by_value = smf.ols("y ~ n * C(v, Sum)", frame(levels, values).assign(n=lambda d: d["u"].map(numbers))).fit()
    assert trend.per_unit.estimate == pytest.approx(by_value.params["n"], rel=1e-7)
    rows = np.array([[-1, 1, 0], [-1, 0, 1], [0, -1, 1], *curve_lines(np.array(list(numbers.values())))])
    unit = rows / np.sqrt((rows**2).sum(axis=1, keepdims=True))
    first, rng = trend.steps[0], np.random.default_rng(2)
    error = np.sqrt(rng.chisquare(first.df, (400_000, 1)) / first.df)
    t = (rng.standard_normal((400_000, 3)) @ unit.T) / error
    inside = np.abs(t).max(axis=1) <= (first.interval.high - first.estimate) / first.se
    assert inside.mean() == pytest.approx(0.95, abs=2e-3)


def test_the_pairs_that_would_pass_for_an_effect():
    """Half of 2⁴: no main effect is mixed with an interaction of two factors. Half of 2³: each is mixed with that of the other
    two (Box, Hunter & Hunter 2005, chapter 6: resolution IV and III).
    """
    for count in (3, 4):
        combos = [c for c in product("ab", repeat=count) if c.count("b") % 2 == 0]
        _, notes = factor_contrasts(design_of(combos, dict.fromkeys(NAMES[:count], ("a", "b"))))
        (note,) = [n for n in notes if "as if factors did not need each other" in n]
        assert ("(v and w)" in note and "(u and w)" in note and "(u and v)" in note) is (count == 3)
        assert "pass for it" in note if count == 3 else "pass for it" not in note
