"""Explaining a number: every step is there, and they add up to what was said."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from evenhand.errors import UsageError
from evenhand.judging.model import MeasureJudgement
from evenhand.steps.explain import Explained, explain
from evenhand.steps.judge import judge_study
from evenhand.steps.screen import screen_study
from evenhand.steps.standing import decide


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
    runs = [s.number for s in found.steps if re.fullmatch(r"deck lean v\d r\d", s.what)]
    assert len(runs) == 6
    visits = [np.mean(np.log(runs[i : i + 2])) for i in (0, 2, 4)]
    for number, mean in enumerate(visits, start=1):
        assert next(s.number for s in found.steps if s.what == f"lean, visit {number}") == pytest.approx(mean, rel=1e-9)
    [cell] = [c for c in average(judged).cells if (c.title, c.setup) == ("night-ferry", "lean")]
    own = {s.what: s.number for s in found.steps if s.part == "lean"}
    named = [own[f"{what} in frames per second"] for what in ("estimate", "low end", "high end")]
    assert named == pytest.approx([np.exp(np.mean(visits)), cell.interval_low, cell.interval_high], rel=1e-9)


def average(folder: Path) -> MeasureJudgement:
    return judge_study(folder).opened.outcome.shown.measures["average"]


def test_a_run_that_does_not_count_is_named_and_left_out(judged: Path) -> None:
    decide(judged, "ironvale/mine/lean/v3/r2", "set-aside", "capped", "Ada")
    found = explain(judged, "ironvale/lean")
    [left] = [s for s in found.steps if s.part == "runs that do not count"]
    assert (left.what, left.value) == ("ironvale/mine lean v3 r2", "set aside")
    assert len([s for s in found.steps if s.what.startswith("mine lean v3 r")]) == 1


def test_a_title_at_a_glance(judged: Path) -> None:
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


@pytest.mark.parametrize(("what", "against", "sign"), [("lean", None, 1), ("plain", "lean", -1)])
def test_what_is_explained_is_what_was_judged(judged: Path, what: str, against: str | None, sign: int) -> None:
    [c] = [c for c in average(judged).comparisons if c.title == "ironvale"]
    found = explain(judged, f"ironvale/{what}", against=against)
    here = {s.what: s.number for s in found.steps if " against " in s.part}
    name = f"estimate: {what} against {against or 'plain'}"
    assert (here[name], here["standard error"]) == (pytest.approx(sign * c.estimate), pytest.approx(c.se))
    verdict = next(s.value for s in found.steps if s.what == "verdict")
    assert verdict.startswith("ahead" if sign > 0 else "behind")


def test_over_titles_and_the_best(judged: Path) -> None:
    [o] = average(judged).over
    found = explain(judged, "over/lean")
    here = {s.what: s.number for s in found.steps}
    assert (here["standard error"], here["degrees of freedom"]) == (pytest.approx(o.se_these), pytest.approx(o.df_these))
    assert here["titles like these, low end"] == pytest.approx(o.like.low if o.like else None)
    assert here["ahead, k"] == o.titles_ahead
    best = explain(judged, "over/best")
    assert [s.value for s in best.steps if s.what == "lean"] == ["may be the best"]


def test_people_read_a_part_at_a_time(judged: Path) -> None:
    sections = explain(judged, "night-ferry/lean").sections
    assert sections[0].heading == "night-ferry/lean: where its Average frame rate comes from"
    assert [s.heading for s in sections][-1] == "Lean against plain"
    assert all(s.items or s.tables for s in sections[1:])
    assert any("Mean of 2 runs: lean, visit 1 = (log(" in item for s in sections for item in s.items)


@pytest.mark.parametrize(
    ("what", "measure", "slug", "told"),
    [
        ("nightferry", "average", "no-such-run", "did you mean night-ferry?"),
        ("night-ferry/fast", "average", "no-such-run", "name one of plain or lean"),
        ("night-ferry/lean/v9/r9", "average", "no-such-run", "did you mean"),
        ("night-ferry", "mean", "unknown-measure", "name one of"),
        ("night-ferry/memory=5200", "average", "no-such-run", "has no factors"),
        ("over/plain", "average", "no-such-run", "not compared with itself"),
        ("over", "average", "no-such-run", "over/SETUP"),
        ("night-ferry/deck/lean", "average", "no-such-run", "TITLE/SETUP"),
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
