"""Explaining a number: every step is there, and they add up to what was said."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from evenhand.errors import UsageError
from evenhand.steps.explain import Explained, explain
from evenhand.steps.judge import judge_study
from evenhand.steps.screen import screen_study


def value(found: Explained, what: str) -> str:
    return next(s.value for s in found.steps if s.what.strip() == what)


def figures(text: str) -> list[float]:
    return [float(n.replace("−", "-")) for n in re.findall(r"[−-]?\d+(?:\.\d+)?", text)]


def test_a_run_down_to_its_frames(judged: Path) -> None:
    """N / D of the frames that count is the average, as printed."""
    found = explain(judged, "night-ferry/plain/v2/r1")
    assert value(found, "log").partition("; ")[0].endswith("plain-v2-r1.csv")
    count, ms = figures(value(found, "counted"))
    [average] = figures(value(found, "Average frame rate"))
    assert average == pytest.approx(1000 * count / ms, abs=1e-3)
    low, high = figures(value(found, "within-run interval"))[:2]
    assert low < average < high
    assert "nobody decided otherwise" in value(found, "standing")


def test_a_run_with_a_flag(judged: Path) -> None:
    assert "capped" in [s.formula for s in explain(judged, "ironvale/mine/lean/v3/r2").steps]


def test_a_low_says_how_many_frames_decide_it(judged: Path) -> None:
    found = explain(judged, "night-ferry/plain/v2/r1", "low1_percentile")
    assert figures(value(found, "tail"))[0] == pytest.approx(9, abs=1)  # 1 % of 900 frames


def test_a_cell_is_the_mean_of_visit_means_of_its_runs(judged: Path) -> None:
    found = explain(judged, "night-ferry/lean")
    runs = [figures(s.value)[0] for s in found.steps if s.what.startswith("night-ferry/deck lean")]
    assert len(runs) == 6
    visits = [np.exp(np.mean(np.log(runs[i : i + 2]))) for i in (0, 2, 4)]
    for number, mean in enumerate(visits, start=1):
        assert figures(value(found, f"visit mean {number}"))[0] == pytest.approx(mean, abs=2e-3)
    cell = figures(value(found, "cell"))[0]
    assert cell == pytest.approx(np.exp(np.mean(np.log(visits))), abs=2e-3)
    low, high = figures(value(found, "its interval"))
    assert low < cell < high


def test_a_title_adds_up_to_its_interval(judged: Path) -> None:
    """With two setups, all pairs at once are one pair: the max-t quantile is then that of t (scipy.stats)."""
    found = explain(judged, "night-ferry")
    estimate = figures(value(found, "lean against plain"))[0]
    se, df = figures(value(found, "standard error"))
    low, high = figures(value(found, "95\N{NO-BREAK SPACE}%, all pairs at once"))
    half = stats.t.ppf(0.975, df) * se
    assert (low, high) == (pytest.approx(estimate - half, abs=3e-4), pytest.approx(estimate + half, abs=3e-4))
    low, high, margin = figures(value(found, "90\N{NO-BREAK SPACE}%, this pair"))
    half = stats.t.ppf(0.95, df) * se
    assert (low, high) == (pytest.approx(estimate - half, abs=3e-4), pytest.approx(estimate + half, abs=3e-4))
    assert margin == pytest.approx(np.log(1.03), abs=1e-5)
    assert "ahead beyond the margin" in value(found, "verdict")


def test_what_is_explained_is_what_was_judged(judged: Path) -> None:
    [c] = [c for c in judge_study(judged).opened.outcome.shown.measures["average"].comparisons if c.title == "ironvale"]
    found = explain(judged, "ironvale")
    assert figures(value(found, "lean against plain"))[0] == pytest.approx(c.estimate, abs=1e-5)
    assert figures(value(found, "standard error")) == [pytest.approx(c.se, abs=1e-5), pytest.approx(c.df, abs=0.05)]


@pytest.mark.parametrize(
    ("what", "measure", "slug", "told"),
    [
        ("nightferry", "average", "no-such-run", "did you mean night-ferry?"),
        ("night-ferry/fast", "average", "no-such-run", "name one of plain or lean"),
        ("night-ferry/lean/v9/r9", "average", "no-such-run", "did you mean"),
        ("night-ferry", "mean", "unknown-measure", "name one of"),
    ],
)
def test_what_is_not_there(judged: Path, what: str, measure: str, slug: str, told: str) -> None:
    with pytest.raises(UsageError) as error:
        explain(judged, what, measure)
    assert error.value.problems[0].slug == slug
    assert told in str(error.value)


def test_a_hidden_run_stays_hidden(judged: Path) -> None:
    name = str(screen_study(judged, blind=True).screening.doubtful()[0])
    with pytest.raises(UsageError):
        explain(judged, name.replace(" hidden", "/hidden").replace(" v", "/v").replace(" r", "/r"))
