"""Judging a study: what is told, in which measures, and that the same numbers stand in the document for programs."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from evenhand.errors import UsageError
from evenhand.judging.model import Verdict
from evenhand.steps.judge import Judged, judge_study
from evenhand.steps.standing import decide


@pytest.fixture
def found(judged: Path) -> Judged:
    return judge_study(judged)


def headings(found: Judged) -> list[str]:
    return [s.anchor for s in found.sections]


def test_the_account_begins_with_doubt_and_ends_with_what_it_depends_on(found: Judged) -> None:
    order = headings(found)
    assert order[:5] == ["doubtful", "recommendation", "over", "titles-average", "titles-low1_percentile"]
    assert found.sections[1].heading.startswith("Choose Lean: over these 2 titles it is ahead of Plain beyond the margin in the")
    over = found.sections[2]
    assert over.heading == "Over 2 titles: Lean is ahead of Plain beyond the margin"
    assert "Rests on 24 runs" in over.paragraphs[0] and "No run's setup is proven" in over.paragraphs[0]


def test_the_difference_is_that_of_visit_means(found: Judged) -> None:
    """The unit is the visit: the estimate of a title is the difference of means of visit means of logarithms, by hand."""
    values: dict[tuple[str, int], list[float]] = {}
    for run in found.opened.outcome.runs:
        if run.key.title == "night-ferry":
            values.setdefault((run.key.setup, run.key.visit), []).append(math.log(run.measures.values["average"]))
    mean = {s: np.mean([np.mean(v) for (setup, _), v in values.items() if setup == s]) for s in ("plain", "lean")}
    [c] = [c for c in found.opened.outcome.shown.measures["average"].comparisons if c.title == "night-ferry"]
    assert c.estimate == pytest.approx(mean["lean"] - mean["plain"], abs=1e-12)
    assert c.estimate == pytest.approx(math.log(1 / 0.9), abs=0.02)  # as the logs were made
    assert c.verdict is Verdict.AHEAD_BEYOND


def test_only_the_measures_asked_for(judged: Path) -> None:
    found = judge_study(judged, ("hitches",))
    assert headings(found) == ["over", "titles-hitches"]
    assert found.sections[0].tables[0].head == ("against Plain", "Hitches")


def test_unknown_measures_are_told_all_at_once(judged: Path) -> None:
    with pytest.raises(UsageError) as error:
        judge_study(judged, ("averge", "colour"))
    assert [p.slug for p in error.value.problems] == ["unknown-measure"] * 2
    assert "did you mean average?" in str(error.value) and "there is no measure named 'colour'" in str(error.value)


def test_what_was_set_aside_is_put_back_for_comparison(judged: Path, found: Judged) -> None:
    assert found.opened.outcome.put_back is None
    decide(judged, "ironvale/lean/v3/r2", "set-aside", "capped")
    again = judge_study(judged).opened.outcome
    assert (again.shown.runs, again.put_back and again.put_back.runs) == (23, 24)
    key = ("average", "ironvale")
    before, after = (
        next(c.estimate for c in o.shown.measures[key[0]].comparisons if c.title == key[1]) for o in (found.opened.outcome, again)
    )
    assert after > before
    assert again.put_back is not None
    [put_back] = [c.estimate for c in again.put_back.measures["average"].comparisons if c.title == "ironvale"]
    assert put_back == before
