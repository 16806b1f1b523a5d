"""Geometric means of normalised results as the program's estimates over titles give them: Fleming & Wallace (1986; table from
memory, the property is what is tested; 12a), Null & Lobur, tables 10.4 and 10.5 (12b), two programs on three computers
(encyclopaedia article; 12c). Programs are titles, computers setups; times are compared as ratios, less is better.
"""

import math

import pytest
from judged import judged, printed

from evenhand.judging.model import Verdict
from evenhand.measures.model import Better, Scale

CASES = ["12a-geomean-fleming-wallace", "12b-geomean-null-lobur", "12c-geomean-two-programs"]


def on_programs(case, visits=1, **design):
    inputs = case["inputs"]
    cells = {
        (program, system): [times[i]] * visits
        for i, program in enumerate(inputs["benchmarks"])
        for system, times in inputs["systems"].items()
    }
    return judged(cells, Scale.LOG, Better.LOWER, **design)


def over_programs(case, visits=1, **design):
    """(computer, against) -> what holds over the programs."""
    return {(o.setup, o.against): o for o in on_programs(case, visits, **design).over}


@pytest.mark.parametrize("name", CASES)
def test_ratios_and_their_means(reference, name):
    case = reference(name)
    inputs, told = case["inputs"], printed(case)
    sign = -1 if inputs["ratio"].startswith("time of reference") else 1
    for against, expected in case["expected"]["normalised_to"].items():
        found = on_programs(case, baseline=against)
        for o in found.over:
            if o.against == against:
                mean = math.exp(sign * o.estimate)
                assert mean == pytest.approx(expected["geometric_mean"][o.setup], rel=1e-10)
                value, tolerance = told.get(f"normalised_to/{against}/geometric_mean/{o.setup}", (mean, 0.0))
                assert mean == pytest.approx(value, abs=tolerance)
        for c in found.comparisons:
            if c.against == against:
                place, ratio = inputs["benchmarks"].index(c.title), math.exp(sign * c.estimate)
                assert ratio == pytest.approx(expected["ratios"][c.setup][place], rel=1e-10)
                value, tolerance = told.get(f"normalised_to/{against}/ratios/{c.setup}/{place}", (ratio, 0.0))
                assert ratio == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize("name", CASES)
def test_the_ranking_is_the_same_for_every_baseline(reference, name):
    case = reference(name)
    systems = list(case["inputs"]["systems"])
    for against in systems:
        over = over_programs(case, baseline=against)
        log = {s: 0.0 if s == against else round(over[s, against].estimate, 12) for s in systems}
        assert sorted(systems, key=log.__getitem__) == case["expected"]["ranking_best_first"][systems[0]]["geometric_mean"]


@pytest.mark.parametrize("baseline", ["A", "B", "C"])
def test_equal_means_are_level(reference, baseline):
    """A and B tie over the two programs though neither does in either, and C is ahead of both. Every time is told twice, so that
    no noise stands between the means and the verdict.
    """
    over = over_programs(reference("12c-geomean-two-programs"), visits=2, baseline=baseline)
    verdicts = {frozenset(pair): (pair[0], o.verdict) for pair, o in over.items()}
    assert verdicts.pop(frozenset("AB"))[1] is Verdict.LEVEL
    for setup, verdict in verdicts.values():
        assert verdict is (Verdict.AHEAD_BEYOND if setup == "C" else Verdict.BEHIND_BEYOND)


def test_a_title_with_two_votes_counts_twice(reference):
    """Weights are the exponents of the weighted geometric mean: the same as the program listed twice."""
    case = reference("12b-geomean-null-lobur")
    weighted = over_programs(case, weights={"z": 2.0})
    inputs = case["inputs"]
    twice = {"benchmarks": [*inputs["benchmarks"], "z again"], "systems": {s: [*t, t[-1]] for s, t in inputs["systems"].items()}}
    for pair, o in over_programs({"inputs": twice}).items():
        assert weighted[pair].estimate == pytest.approx(o.estimate, rel=1e-12)
