"""Noise learned from judged studies is the noise they were made with; the named kinds are those of the examples."""

import numpy as np
import pytest

from evenhand.examples.invented import invented_frames, invented_truth, keys
from evenhand.frames.stretch import apply, propose
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Row
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.compute import measure_run
from evenhand.measures.model import Better, Measure, Scale
from evenhand.rehearsal.planned import unlike_titles
from evenhand.rehearsal.simulate import Truth, rows, simulate
from evenhand.rehearsal.spreads import KINDS, learned, stated

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")


def book(truth, seed, **more):
    names = tuple(f"s{i + 1}" for i in range(truth.setups))
    return judge(rows(simulate(truth, np.random.default_rng(seed)), 0, "rate"), Design(names, "s1", (RATE,), **more))


def test_all_parts_are_found_again():
    """Many visits of many titles, so that each part is known to a few per cent; the round's to a fifth."""
    truth = Truth(8, 4, 40, 3, run_noise=0.02, visit_shift=0.03, title_shift=0.01, round_shift=0.05)
    found = learned([book(truth, 2)], "rate", "here")
    assert found.run == pytest.approx(0.02, rel=0.03)
    assert found.title == pytest.approx(0.01, rel=0.08)
    assert found.visit == pytest.approx(0.03, rel=0.15)
    assert found.round == pytest.approx(0.05, rel=0.25)
    assert found.source == "here" and not found.loose and found.run_df == 8 * 4 * 40 * 2


def test_scenes_are_told_from_titles():
    """Two scenes thin the run noise of a title; what is learned is of one run of one scene."""
    drawn = simulate(Truth(6, 2, 40, 2, run_noise=0.03, visit_shift=0.0, title_shift=0.0), np.random.default_rng(2))
    table = [Row(f"t{t // 2}", f"s{c + 1}", v + 1, r + 1, "rate", float(100 * np.exp(x)), f"scene{t % 2}")
             for (_, t, c, v, r), x in np.ndenumerate(drawn.values)]  # fmt: skip
    found = learned([judge(table, Design(("s1", "s2"), "s1", (RATE,)))], "rate", "")
    assert found.run == pytest.approx(0.03, rel=0.03)
    assert found.title < 0.008


def test_books_are_pooled_by_degrees_of_freedom():
    quiet, loud = Truth(4, 3, 3, 2, 0.01, 0.005), Truth(4, 3, 9, 2, 0.05, 0.005)
    one, two = book(quiet, 3), book(loud, 4)
    alone = [learned([b], "rate", "") for b in (one, two)]
    both = learned([one, two], "rate", "two")
    expected = sum(a.run**2 * a.run_df for a in alone) / sum(a.run_df for a in alone)
    assert both.run**2 == pytest.approx(expected)
    assert both.visit_df == sum(a.visit_df for a in alone)


def test_one_run_a_visit_leaves_run_and_title_together():
    found = learned([book(Truth(5, 3, 20, 1, 0.02, 0.01, 0.01), 5)], "rate", "")
    assert found.loose and found.run == 0
    assert found.title == pytest.approx(np.hypot(0.02, 0.01), rel=0.1)


def test_one_visit_tells_nothing_of_visits():
    assert learned([book(Truth(5, 3, 1, 3, 0.02, 0.01), 6)], "rate", "") is None
    assert learned([book(Truth(5, 3, 3, 3, 0.02, 0.01), 6)], "other", "") is None


def test_unlike_titles_have_the_spread_of_their_prior():
    """Standard deviations whose variances are d0 over chi-square on d0, by simulation."""
    variances = 7.0 / np.random.default_rng(1).chisquare(7.0, 200_000)
    assert unlike_titles(7.0) == pytest.approx(np.log(np.sqrt(variances)).std(), rel=0.01)
    assert unlike_titles(np.inf) == 0


def test_what_is_stated_of_the_average_is_scaled_for_other_measures():
    average, low = KINDS["orderly"]["average"], KINDS["orderly"]["low1_percentile"]
    found = stated(low, average, {"run": 2 * average.run})
    assert found.run == pytest.approx(2 * low.run) and found.visit == low.visit
    assert found.source.startswith("as stated; the rest: a bench in good order")
    whole = stated(average, average, {"run": 0.01, "title": 0.02, "visit": 0.0, "round": 0.03})
    assert (whole.run, whole.title, whole.visit, whole.round, whole.source) == (0.01, 0.02, 0.0, 0.03, "as stated")
    assert stated(low, average, {}) is low


def test_the_orderly_bench_is_that_of_the_invented_example():
    """Visits as it was made; run to run as measured on its frames, which add a little to what was put in."""
    truth, kind = invented_truth(), KINDS["orderly"]
    assert all((k.visit, k.title, k.round) == (truth.visit_sd, truth.title_sd, 0.0) for k in kind.values())
    assert kind["average"].run == truth.run_sd
    titles = ("gannet-hollow", "paper-armada", "quiet-orbit", "tin-cathedral")  # their first runs are like the rest
    values = {m: {} for m in kind}
    logs = {k: invented_frames(k) for k in keys() if k.title in titles}
    stretches = {t: propose(t, "clock", [f for k, f in logs.items() if k.title == t]) for t in titles}
    for key, frames in logs.items():
        measured = measure_run(apply(frames, stretches[key.title]).counted, 60.0).values
        for m in kind:
            values[m].setdefault((key.title, key.setup, key.visit), []).append(np.log(measured[m]))
    for m, cells in values.items():
        pairs = np.array([v for v in cells.values() if len(v) == 2])
        robust = np.median(np.abs(pairs[:, 0] - pairs[:, 1])) / 0.6745 / np.sqrt(2)
        assert robust == pytest.approx(kind[m].run, rel=0.25), m


def test_the_noisy_bench_is_that_of_the_measured_example(recordings):
    kind, runs = KINDS["noisy"], recordings("campaign")
    scenes = {r.scene for r in runs}
    stretches = {s: propose(s, "frames", [r.frames for r in runs if r.scene == s]) for s in scenes}
    table = []
    for r in runs:
        measured = measure_run(apply(r.frames, stretches[r.scene]).counted, 60.0)
        where = (r.scene, r.row["setup"], int(r.row["visit"]), int(r.row["run"]))
        table += [Row(*where, m, measured.values[m]) for m in kind]
    judged = judge(table, Design(tuple("ABCD"), "A", tuple(CATALOGUE[m] for m in kind)))
    for m, supposed in kind.items():
        found = learned([judged], m, "")
        assert found.run == pytest.approx(supposed.run, rel=0.25), m
        assert found.visit == pytest.approx(supposed.visit, rel=0.35), m
        assert found.round == pytest.approx(supposed.round, rel=0.35), m
