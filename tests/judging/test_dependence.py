"""What depends on the choice of titles, against judging again and against looking at every set."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_runs import RATE, design, study

from evenhand.judging.advice import answers
from evenhand.judging.advice.answers import VerdictsOver, without
from evenhand.judging.advice.dependence import resampled, setup_dependence, title_dependence
from evenhand.judging.advice.model import Preferences
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.advice.rules import Rule, choose
from evenhand.judging.advice.subsets import Field, field_of
from evenhand.judging.advice.turning import smallest_turn
from evenhand.judging.analysis import analyse
from evenhand.judging.decide import VERDICTS
from evenhand.judging.groups import response_groups
from evenhand.judging.judge import judge
from evenhand.judging.model import Row, Verdict
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.study.model import Stated


def field(rows: list[Row], setups: str) -> Field:
    asked = design(setups)
    return field_of(analyse(visit_means(read_runs(rows, asked), RATE, asked), asked, False))


def titled(effects: dict[str, float], noise: float = 0.002, seed: int = 1) -> list[Row]:
    """A study of A and B in which each title has its own effect of B."""
    rows: list[Row] = []
    for i, (name, effect) in enumerate(effects.items()):
        own = study(titles=1, effects=(0.0, effect), noise=noise, shift=0.002, seed=seed + i)
        rows += [Row(name, r.setup, r.visit, r.run, r.measure, r.value) for r in own]
    return rows


ONE_BEARS_IT = {"Ironvale": 0.001, "Quiet Orbit": -0.001, "Night Ferry": 0.0, "Under Glass": 0.4, "Saltmarsh Rally": 0.001}


def test_one_title_that_bears_a_verdict_is_named() -> None:
    rows = titled(ONE_BEARS_IT)
    judgement = judge(rows, design("AB"))
    found = title_dependence(rows, judgement, ("rate",)).over[0]
    assert found.verdict is Verdict.AHEAD_BEYOND and found.most == "Under Glass"
    assert found.turns == found.turn.titles == ("Under Glass",)
    assert (found.turn.to, found.turn.ways, found.turn.proven, found.turn.smallest) == ("level", 1, 0, True)
    rest = judge([r for r in rows if r.title != "Under Glass"], design("AB")).measures["rate"].over[0]
    assert found.without == pytest.approx(rest.estimate, abs=1e-12) and rest.verdict is Verdict.LEVEL
    assert found.same == pytest.approx(1 - (4 / 5) ** 5, abs=0.08), "drawn at least once in five"


def test_a_verdict_that_all_titles_bear_is_turned_by_none() -> None:
    rows = titled({f"title {i}": 0.2 for i in range(9)})
    found = title_dependence(rows, judge(rows, design("AB")), ("rate",)).over[0]
    assert found.turns == () and found.turn.titles == () and not found.turn.smallest
    assert (found.turn.proven, found.turn.limit, found.same) == (3, 4, 1.0)


def test_larger_sets_are_found_along_the_titles_that_bear_it() -> None:
    """Four of nine titles bear it; without them all the rest is level, and no three do."""
    rows = titled({f"title {i}": 0.5 if i < 4 else 0.0 for i in range(9)}, noise=0.0005)
    turn = title_dependence(rows, judge(rows, design("AB")), ("rate",)).over[0].turn
    assert turn.titles == tuple(f"title {i}" for i in range(4))
    assert (turn.proven, turn.smallest, turn.ways, turn.to) == (3, True, 0, "level")


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(-0.05, 0.05))
def test_the_smallest_set_is_that_of_looking_at_every_set(seed: int, mean: float) -> None:
    rng = np.random.default_rng(seed)
    rows = titled({f"title {i}": mean + float(rng.normal(0, 0.04)) for i in range(7)}, noise=0.01, seed=seed)
    verdict = VerdictsOver(field(rows, "AB"), 0)
    names = tuple(f"title {i}" for i in range(7))
    turn, alone = smallest_turn(verdict, names, np.arange(7), (), str)
    shown = int(verdict(np.ones((1, 7)))[0])
    turning_sets = [c for k in (1, 2, 3) for c in combinations(range(7), k) if int(verdict(without(7, [c]))[0]) != shown]
    assert [(t,) for t in alone.tolist()] == [c for c in turning_sets if len(c) == 1]
    if not turning_sets:
        assert turn.titles == () and turn.proven == 3
        return
    smallest = [c for c in turning_sets if len(c) == len(turning_sets[0])]
    assert turn.titles == tuple(names[i] for i in smallest[0])
    assert (turn.ways, turn.proven) == (len(smallest), len(smallest[0]) - 1)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(-0.06, 0.06), st.floats(0.0, 1.5))
def test_sets_foreseen_have_the_verdict_that_working_them_out_gives(seed: int, mean: float, unlike: float) -> None:
    rng = np.random.default_rng(seed)
    rows: list[Row] = []
    for i in range(12):
        noise = 0.01 * math.exp(unlike * rng.normal())
        rows += titled({f"title {i}": mean + float(rng.normal(0, 0.03))}, noise=noise, seed=seed + 50 * i)
    verdict, sets = VerdictsOver(field(rows, "AB"), 0), without(12, list(combinations(range(12), 3)))
    plain = verdict(sets)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(answers, "MANY", 1)
        assert (verdict(sets) == plain).all()


def test_resampled_means_vary_as_the_bootstrap_of_a_mean_does() -> None:
    """Efron & Tibshirani, An Introduction to the Bootstrap (1993), ch. 5: variance of a resampled mean = Σ (x − x̄)² / n²."""
    values = np.array([0.02, -0.01, 0.05, 0.3, 0.0, 0.11, -0.2])
    means = resampled(7, 40_000, 3) @ values / 7
    assert means.mean() == pytest.approx(values.mean(), abs=0.002)
    assert means.var() == pytest.approx(((values - values.mean()) ** 2).sum() / 49, rel=0.03)


def by_mean(gains: np.ndarray) -> answers.Answer:
    return lambda kept: choose(gains, kept)[Rule.MEAN]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4), st.integers(2, 8))
def test_the_smallest_set_that_turns_the_setup_named(seed: int, setups: int, titles: int) -> None:
    gains = np.random.default_rng(seed).normal(0, 1, (titles, setups))
    gains[:, 0] = 0.0
    names = tuple(f"title {i}" for i in range(titles))
    found = setup_dependence(by_mean(gains), names, "ABCD"[:setups], gains, (), resampled(titles, 300, 1))
    shown = int(gains.mean(axis=0).argmax())
    for size in range(1, titles // 2 + 1):
        turned = [c for c in combinations(range(titles), size) if np.delete(gains, c, axis=0).mean(axis=0).argmax() != shown]
        if turned:
            assert len(found.turn.titles) == size, "with the highest mean the titles along each order are the best to leave out"
            assert not found.turn.ways or found.turn.ways == len(turned)
            break
    else:
        assert found.turn.titles == ()
    assert found.setup == "ABCD"[shown]
    assert sum(share for _, share in found.shares) == pytest.approx(1.0)


def test_each_group_names_its_own_setup() -> None:
    rows = [
        *(Row(f"near {r.title}", *_rest(r)) for r in study(titles=4, effects=(0.0, 0.1, 0.0), noise=0.002)),
        *(Row(f"far {r.title}", *_rest(r)) for r in study(titles=3, effects=(0.0, 0.0, 0.1), noise=0.002, seed=2)),
    ]
    judgement = judge(rows, design("ABC"))
    groups = response_groups(judgement, "rate")
    gains = np.array([[0.0, 0.1, 0.0]] * 4 + [[0.0, 0.0, 0.1]] * 3)
    found = setup_dependence(by_mean(gains), judgement.titles, "ABC", gains, groups, resampled(7, 300, 1))
    assert found.setup == "B"
    assert {g.setup: len(g.titles) for g in found.by_group} == {"B": 4, "C": 3}
    assert (len(found.turn.titles), found.turn.to, found.turn.ways) == (2, "C", 6)


def _rest(row: Row) -> tuple[str, int, int, str, float]:
    return row.setup, row.visit, row.run, row.measure, row.value


def test_nothing_is_said_where_there_is_no_verdict_or_one_title() -> None:
    once, alone = study(visits=1), study(titles=1)
    assert title_dependence(once, judge(once, design()), ("rate",)).over == ()
    assert title_dependence(alone, judge(alone, design()), ("rate", "unknown")).over == ()


def test_titles_that_lack_the_setup_do_not_count() -> None:
    rows = [r for r in titled(ONE_BEARS_IT) if (r.title, r.setup) != ("Ironvale", "B")]
    found = title_dependence(rows, judge(rows, design("AB")), ("rate",)).over[0]
    assert found.turn.titles == ("Under Glass",) and found.turn.limit == 2
    assert found.verdict in VERDICTS


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.0, 0.08), st.booleans(), st.sampled_from(["", "B", "C"]))
def test_all_titles_name_the_setup_that_is_recommended(seed: int, size: float, lacking: bool, brings: str) -> None:
    rng = np.random.default_rng(seed)
    effects = (0.0, *rng.normal(0, size, 2).tolist())
    rows = [r for r in study(titles=5, effects=effects, seed=seed) if not lacking or (r.title, r.setup) != ("title 2", "C")]
    wanted = Preferences({"rate": 1.0}, brings={brings: (Stated("quiet"),)} if brings else {})
    judgement = judge(rows, design("ABC", weights={"title 0": 2.0}))
    advice = recommend(judgement, wanted, count=20)
    assert advice is not None
    found = title_dependence(rows, judgement, (), (advice, wanted), response_groups(judgement, "rate")).setup
    assert found is not None and found.setup == advice.setup
    assert {t for g in found.by_group for t in g.titles} == set(judgement.titles)


def test_two_measures_weigh_in_what_is_recommended() -> None:
    """B leads in the average, C in the low by far more: the average alone names B, both together C."""
    low = [Row(r.title, r.setup, r.visit, r.run, "low", r.value) for r in study(titles=5, effects=(0.0, 0.0, 0.3), noise=0.002)]
    rows = [*study(titles=5, effects=(0.0, 0.1, 0.05), noise=0.002), *low]
    judgement = judge(rows, design("ABC", RATE, replace(RATE, key="low")))
    for weights, setup in (({"rate": 1.0}, "B"), ({"rate": 1.0, "low": 1.0}, "C"), ({"rate": 9.0, "low": 0.5}, "B")):
        wanted = Preferences(weights)
        advice = recommend(judgement, wanted, count=20)
        assert advice is not None and advice.setup == setup
        found = title_dependence(rows, judgement, (), (advice, wanted)).setup
        assert found is not None and found.setup == setup and found.turn.titles == ()
