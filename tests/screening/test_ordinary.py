"""Studies as they come: few runs, one setup, many titles, tiny logs. Nothing crashes, and clean runs are left alone."""

import numpy as np
import pytest

from evenhand.screening.screen import screen
from evenhand.study.model import Pace, RunKey


@pytest.mark.parametrize("pace", list(Pace))
@pytest.mark.parametrize(("setups", "visits", "runs"), [(1, 1, 1), (1, 1, 2), (4, 1, 1), (2, 2, 1), (1, 3, 3), (3, 2, 2)])
def test_clean_studies_of_any_size_are_left_alone(bench, pace, setups, visits, runs):
    making = bench.making(titles=3, setups=setups, visits=visits, runs=runs, pace=pace, seconds=20, frames=2000)
    assert not bench.doubts(screen(bench.made(making)))


def test_few_of_many_clean_runs_are_flagged(bench):
    """Five studies of 96 runs, visits 2 % apart, runs 2 %."""
    flagged = sum(
        len(screen(bench.made(bench.making(titles=8, visit=0.02, run=0.02, seconds=20, seed=s))).doubtful()) for s in range(5)
    )
    assert flagged <= 0.02 * 480


@pytest.mark.parametrize("n", [1, 2, 3, 7, 60])
@pytest.mark.parametrize("pace", list(Pace))
@pytest.mark.parametrize("count", [1, 2, 5])
def test_tiny_logs(bench, n, pace, count):
    rng = np.random.default_rng(n)
    runs = [
        bench.run_of(RunKey("t", "t", "s", 1, r), rng.integers(1, 20_000_000, n), pace, float(r)) for r in range(1, count + 1)
    ]
    assert screen(runs).runs == count


def test_no_runs_at_all():
    assert screen([]).flags == ()


def test_a_threshold_of_no_check_is_refused(clean):
    with pytest.raises(KeyError, match="no-such"):
        screen(clean, {"no-such": 1.0})


def test_a_threshold_is_obeyed(bench, fixed):
    runs = bench.changed(fixed, 5, fixed[5].whole.ns[:2600], missing=0.35)
    assert not bench.doubts(screen(runs, {"too-short": 0.5}))


def test_unknown_order_says_nothing_about_drift(bench):
    runs = [bench.run_of(r.key, r.whole.ns, Pace.CLOCK, None) for r in bench.made(bench.making(titles=1))]
    assert not screen(runs).flags
