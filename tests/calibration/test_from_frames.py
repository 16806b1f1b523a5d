"""From frames to verdicts: the law of frames against quadrature and long draws, what the ways do to runs, and the counts.

The fast part counts one small kind of study (24 studies, seeds fixed); the slow part every kind of docs/methods/end-to-end.md.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from evenhand.judging.judge import judge
from evenhand.judging.model import Design
from evenhand.measures.catalogue import CATALOGUE
from evenhand.rehearsal.count_verdicts import figures
from evenhand.rehearsal.frame_law import (
    AVERAGE,
    HITCH_CHANCE,
    HITCHES,
    MEASURES,
    NOISE_SD,
    PERCENTILE,
    STRETCH,
    TAIL_MEAN,
    TIME_SHARE,
    FrameLaw,
)
from evenhand.rehearsal.from_frames import COMPILING, known, record
from evenhand.rehearsal.from_frames_grid import cells, misses, run
from evenhand.rehearsal.from_frames_page import change_of, page
from evenhand.rehearsal.redo import Way, counting, redone, redone_by_eye, rows_of
from evenhand.screening.screen import screen

USUAL = cells()[0].kind
SMALL = cells()[1]
LOG_MS = np.log(10.0)


def noise(z):
    return NOISE_SD * (z + STRETCH * max(z - 1, 0))


def below(log_ms):
    """P(a frame of a flat scene of 10 ms is shorter), by normal quadrature of the definition."""

    def part(u):
        z = u / NOISE_SD if u <= NOISE_SD else (u / NOISE_SD + STRETCH) / (1 + STRETCH)
        return stats.norm.cdf(z)

    return (1 - HITCH_CHANCE) * part(log_ms - LOG_MS) + HITCH_CHANCE * np.mean([part(log_ms - LOG_MS - h) for h in HITCHES])


def test_the_law_of_a_flat_scene_is_that_of_quadrature():
    found = FrameLaw(np.full(100, LOG_MS)).truth(0.02)
    mean_noise, _ = integrate.quad(lambda z: np.exp(noise(z)) * stats.norm.pdf(z), -9, 9, epsabs=1e-12, points=[1.0])
    mean_ms = 10 * mean_noise * (1 - HITCH_CHANCE + HITCH_CHANCE * np.exp(HITCHES).mean())
    slow = optimize.brentq(lambda x: below(x) - 0.99, 2, 4)
    tail, _ = integrate.quad(lambda ms: 1 - below(np.log(ms)), np.exp(slow), 60, epsabs=1e-11, limit=400)
    tail_ms = np.exp(slow) + tail / 0.01
    assert found[AVERAGE] == pytest.approx(np.log(1e3 / mean_ms), abs=1e-6)
    assert found[PERCENTILE] == pytest.approx(np.log(1e3) - slow, abs=1e-6)
    assert found[TAIL_MEAN] == pytest.approx(np.log(1e3 / tail_ms), abs=1e-5)

    def time_above(x):
        rest, _ = integrate.quad(lambda ms: 1 - below(np.log(ms)), np.exp(x), 60, epsabs=1e-11, limit=400)
        return (np.exp(x) * (1 - below(x)) + rest) / mean_ms

    by_time = optimize.brentq(lambda x: time_above(x) - 0.01, slow - 0.5, slow + 0.5, xtol=1e-9)
    assert found[TIME_SHARE] == pytest.approx(np.log(1e3) - by_time, abs=1e-5)


@pytest.mark.parametrize("capped", [False, True])
def test_the_law_is_that_of_long_draws(capped):
    """Twelve batches of long runs, each with its shift at the quantiles of the normal."""
    laws = known(replace(USUAL, capped=1, seed=7)).laws
    law = laws["t1" if capped else "t2"]["s3"]
    assert (law.cap_ms is not None) == capped
    rng = np.random.default_rng(3)
    shifts = 0.02 * stats.norm.ppf((np.arange(12) + 0.5) / 12)
    shifts *= 0.02 / shifts.std()
    found = np.array([drawn(law.draw(np.full(150, s), rng).ravel()) for s in np.tile(shifts, 3)])
    expected = law.truth(0.02)
    residual = found - found.reshape(3, 12, 4).mean(axis=0)[np.tile(np.arange(12), 3)]
    error = residual.std(axis=0, ddof=12) / 6
    for i, measure in enumerate(MEASURES):
        assert found[:, i].mean() == pytest.approx(expected[measure], abs=4 * error[i] + 2e-4), measure


def drawn(ms):
    """Log rates of the four measures of many frames."""
    slowest = np.sort(ms)[::-1]
    tail = slowest.size // 100
    time = np.cumsum(slowest)
    by_time = slowest[np.searchsorted(time, 0.01 * time[-1])]
    return np.log(1e3 / np.array([slowest.mean(), slowest[tail], slowest[:tail].mean(), by_time]))


def test_frames_are_correlated_and_have_a_heavy_right_tail():
    ms = FrameLaw(np.zeros(20_000)).draw(np.zeros(1), np.random.default_rng(1))[0]
    logs = np.log(ms)
    assert np.corrcoef(logs[1:], logs[:-1])[0, 1] > 0.4
    assert stats.skew(logs) > 1


def test_a_study_is_drawn_by_its_number_alone():
    one, again, other = (record(USUAL, n) for n in (4, 4, 5))
    key = next(iter(one.honest))
    assert (one.honest[key].cut.counted.ns == again.honest[key].cut.counted.ns).all()
    assert one.kinds == again.kinds
    assert (one.honest[key].cut.counted.ns != other.honest[key].cut.counted.ns).any()


def test_as_many_runs_are_spoiled_as_stated_and_anew_is_another_run():
    studies = [record(replace(USUAL, spoiled=0.15), n) for n in range(12)]
    spoiled = sum(len(s.wrong) for s in studies)
    assert stats.binomtest(spoiled, sum(len(s.honest) for s in studies), 0.15).pvalue > 0.001
    for s in studies:
        assert set(s.kinds) == set(s.wrong)
        assert all(key.run == 1 for key, kind in s.kinds.items() if kind is COMPILING)
        for key in s.wrong:
            assert not np.array_equal(s.wrong[key].cut.counted.ns, s.honest[key].cut.counted.ns)
            assert not np.array_equal(s.anew[key].cut.counted.ns, s.honest[key].cut.counted.ns)


def test_doubtful_runs_are_recorded_anew_once_and_then_set_aside():
    study = record(replace(USUAL, spoiled=0.15), 1)
    first = {**study.honest, **study.wrong}
    anew = {**study.anew, **study.wrong_anew}
    doubtful = set(screen(list(first.values())).doubtful())
    assert doubtful & set(study.wrong)
    counted = redone(first, anew)
    assert all(run is (anew if key in doubtful else first)[key] for key, run in counted.items())
    second = {key: anew[key] if key in doubtful else run for key, run in first.items()}
    assert set(first) - set(counted) == set(screen(list(second.values())).doubtful())


def test_by_eye_one_run_of_each_cell_is_recorded_anew():
    study = record(USUAL, 2)
    counted = redone_by_eye(study.honest, study.anew)
    changed = [key for key, run in counted.items() if run is not study.honest[key]]
    assert sorted({(k.title, k.setup) for k in changed}) == sorted({(k.title, k.setup) for k in study.honest})
    assert len(changed) == len(USUAL.titles) * len(USUAL.setups)
    for key in changed:
        cell = {k: np.log(k_rate(r)) for k, r in study.honest.items() if (k.title, k.setup) == (key.title, key.setup)}
        assert key == max(cell, key=lambda k: abs(cell[k] - np.mean(list(cell.values()))))


def k_rate(run):
    return len(run.cut.counted) / run.cut.counted.seconds


def test_what_is_counted_is_what_judge_says():
    """Moving the truth to the middle of every interval covers all; moving it out covers nothing and makes every claim false."""
    from_truth = figures_with_truth_moved(0.0)
    assert from_truth.title == from_truth.family == from_truth.over == 1.0
    assert from_truth.false_ahead == from_truth.false_ahead_over == 0.0
    far = figures_with_truth_moved(10.0)
    assert far.title == far.family == far.over == 0.0
    assert far.false_ahead == far.false_ahead_over == 0.5  # on one of the two sides


def figures_with_truth_moved(by):
    judged = judge(
        rows_of(counting(record(SMALL.kind, 0), Way.HONEST), {}), Design(("s1", "s2"), "s1", (CATALOGUE[AVERAGE],))
    ).measures[AVERAGE]
    estimate = {c.title: c.estimate for c in judged.comparisons}
    true = np.array([[0.0, estimate[t] + by] for t in SMALL.kind.titles])
    return figures(judged, true, SMALL.kind)


def test_spoiled_runs_cost_width_screening_gives_it_back_and_redoing_by_eye_takes_coverage():
    """The sentences on top of the page, on 24 studies of a small kind; errors are Monte Carlo's, of the mean over studies."""
    [counted] = run([SMALL], 24, processes=1)
    width = {
        way: counted[way].figures[AVERAGE]["width"].mean() / counted[Way.HONEST].figures[AVERAGE]["width"].mean() for way in Way
    }
    assert width[Way.SPOILED] > 1.3
    assert 0.85 < width[Way.SCREENED] < 1.15
    assert 0.97 < width[Way.NEEDLESS] < 1.03
    assert width[Way.BY_EYE] < 0.92
    for way in (Way.HONEST, Way.SCREENED, Way.NEEDLESS):
        assert misses(counted[way], AVERAGE, reach=3.0) == ()
        assert misses(counted[way], PERCENTILE, reach=3.0) == ()
    change, error = change_of([counted], Way.NEEDLESS, AVERAGE, "title")
    assert abs(change) <= 3 * error + 0.002
    assert counted[Way.SCREENED].fates[:, 2].sum() < 0.25 * counted[Way.SPOILED].fates[:, 2].sum()
    assert "| a. " in page([SMALL], [counted], 24)


@pytest.mark.slow
def test_every_kind_covers_and_redoing_by_eye_does_not():
    """Ways a, c and d of every kind hold what is asked for, way e covers less; 60 studies of each, 3.5 standard errors."""
    kinds = cells()
    grid = run(kinds, 60)
    for cell, counted in zip(kinds, grid, strict=True):
        for way in (Way.HONEST, Way.SCREENED, Way.NEEDLESS):
            for measure in (AVERAGE, PERCENTILE):
                assert misses(counted[way], measure, reach=3.5) == (), (cell.name, way)
    change, error = change_of(grid, Way.BY_EYE, AVERAGE, "title")
    assert change < -3 * error
    change, error = change_of(grid, Way.NEEDLESS, AVERAGE, "title")
    assert change > -0.005 - 3 * error
