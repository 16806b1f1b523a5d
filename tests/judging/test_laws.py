"""What must not change a verdict: order of rows, names, units, which setup is named first."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_runs import RATE, SHARE, design, square, study

from evenhand.judging.compare import disagreements
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Verdict

MIRRORED = {
    Verdict.AHEAD: Verdict.BEHIND,
    Verdict.BEHIND: Verdict.AHEAD,
    Verdict.AHEAD_BEYOND: Verdict.BEHIND_BEYOND,
    Verdict.BEHIND_BEYOND: Verdict.AHEAD_BEYOND,
}


def some_study(seed, gaps=True):
    """A study of three setups, some visits of it lost."""
    rng = np.random.default_rng(seed)
    rows = study(titles=4, effects=(0.0, 0.02, -0.05), visits=3, runs=2, seed=seed)
    lost = {(f"title {rng.integers(4)}", "ABC"[rng.integers(3)], int(rng.integers(1, 4))) for _ in range(2 if gaps else 0)}
    return [r for r in rows if (r.title, r.setup, r.visit) not in lost]


def near(a, b):
    """The same comparison up to the last digits."""
    assert (a.title, a.setup, a.against, a.verdict) == (b.title, b.setup, b.against, b.verdict)
    assert (a.estimate, a.se, a.df) == pytest.approx((b.estimate, b.se, b.df), rel=1e-6, abs=1e-12)
    assert (a.simultaneous.low, a.simultaneous.high) == pytest.approx(
        (b.simultaneous.low, b.simultaneous.high), rel=1e-6, abs=1e-9
    )


def by_name(judged):
    return sorted(judged.measures["rate"].comparisons, key=lambda c: (c.title, c.setup, c.against))


seeds = st.integers(0, 200)


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_order_of_rows(seed):
    rows = some_study(seed)
    shuffled = [rows[i] for i in np.random.default_rng(seed).permutation(len(rows))]
    for a, b in zip(by_name(judge(rows, design("ABC"))), by_name(judge(shuffled, design("ABC"))), strict=True):
        near(a, b)


@settings(max_examples=10, deadline=None)
@given(seeds, st.floats(1e-3, 1e3))
def test_rates_in_another_unit(seed, factor):
    """Multiplying every value leaves all ratios as they are."""
    rows = some_study(seed)
    scaled = [replace(r, value=r.value * factor) for r in rows]
    for a, b in zip(by_name(judge(rows, design("ABC"))), by_name(judge(scaled, design("ABC"))), strict=True):
        near(a, b)


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_names_of_setups(seed):
    names = {"A": "low power", "B": "stock", "C": "open"}
    rows = some_study(seed)
    renamed = [replace(r, setup=names[r.setup]) for r in rows]
    plain = judge(rows, design("ABC")).measures["rate"].comparisons
    other = judge(renamed, Design(tuple(names.values()), "low power", (RATE,))).measures["rate"].comparisons
    for a, b in zip(plain, other, strict=True):
        near(replace(a, setup=names[a.setup], against=names[a.against]), b)


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_the_other_way_round_is_the_mirror_image(seed):
    rows = some_study(seed, gaps=False)
    forward = judge(rows, Design(("A", "B", "C"), "A", (RATE,))).measures["rate"]
    backward = judge(rows, Design(("A", "B", "C"), "B", (RATE,))).measures["rate"]
    for judged, other in ((forward.comparisons, backward.comparisons), (forward.over, backward.over)):
        a = next(c for c in judged if (c.setup, c.against) == ("B", "A"))
        b = next(c for c in other if (c.setup, c.against) == ("A", "B"))
        assert a.estimate == pytest.approx(-b.estimate)
        assert a.se_these if hasattr(a, "se_these") else a.se == pytest.approx(b.se)
        assert MIRRORED.get(a.verdict, a.verdict) is b.verdict
        assert a.leaning == -b.leaning


@settings(max_examples=10, deadline=None)
@given(seeds, st.floats(-50, 50))
def test_differences_do_not_depend_on_the_zero(seed, offset):
    rows = [replace(r, measure="share") for r in some_study(seed)]
    moved = [replace(r, value=r.value + offset) for r in rows]
    for a, b in zip(*(judge(x, design("ABC", SHARE)).measures["share"].comparisons for x in (rows, moved)), strict=True):
        near(a, b)


def test_complete_tables_give_plain_means():
    """Where nothing is missing an estimate is the difference of the means over visits, with rounds or without."""
    rows = study()
    for rounds in (True, False):
        for c in judge(rows, design(rounds=rounds)).measures["rate"].comparisons:
            mean = {s: np.mean([math.log(r.value) for r in rows if (r.title, r.setup) == (c.title, s)]) for s in "ABCD"}
            assert c.estimate == pytest.approx(mean[c.setup] - mean[c.against], abs=1e-12)


def test_a_study_does_not_disagree_with_itself_and_names_what_changed():
    rows = study(effects=(0.0, 0.0), noise=0.002, shift=0.001)
    shown = judge(rows, design("AB", **square("AB")))
    assert disagreements(shown, shown, "again") == ()
    faster = [replace(r, value=r.value * (1.1 if r.setup == "B" else 1.0)) for r in rows]
    found = disagreements(shown, judge(faster, design("AB", **square("AB"))), "with B ten per cent faster")
    assert len(found) == 7
    assert {(d.setup, d.against, d.shown, d.other) for d in found} == {("B", "A", Verdict.LEVEL, Verdict.AHEAD_BEYOND)}
    assert [d.title for d in found][-1] is None and found[0].way == "with B ten per cent faster"
