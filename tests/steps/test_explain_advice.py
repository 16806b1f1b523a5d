"""Regrets worked out from the gains that are printed are those of the recommendation."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from evenhand.errors import UsageError
from evenhand.steps.explain import explain
from evenhand.steps.judge import judge_study


def test_regrets_are_those_of_the_recommendation(judged: Path) -> None:
    """Titles of equal vote: the mean of what each loses against its best setup."""
    advice = judge_study(judged).opened.outcome.advice
    assert advice is not None
    found = explain(judged, "over/regret")
    printed = {s.what: s.number for s in found.steps}
    gains = {s: [printed[f"gain of {s} at {t}"] or 0.0 for t in ("night-ferry", "ironvale")] for s in ("plain", "lean")}
    for setup in advice.setups:
        told = next(m for m in setup.measures if m.measure == "average")
        lost = [max(both) - own for own, *both in zip(gains[setup.setup], *gains.values(), strict=True)]
        assert told.worst_regret == pytest.approx(max(lost), abs=1e-12)
        assert told.mean_regret == pytest.approx(sum(lost) / 2, abs=1e-12)
        assert printed[f"worst regret of {setup.setup}"] == pytest.approx(told.worst_regret, abs=1e-12)
        assert printed[f"mean regret of {setup.setup}"] == pytest.approx(told.mean_regret, abs=1e-12)
        in_percent = 100 * (1 - math.exp(-max(lost)))
        assert printed[f"worst regret of {setup.setup} in %"] == pytest.approx(in_percent, abs=1e-9)
        assert printed[f"titles near their best under {setup.setup}"] == told.within
    [reason] = [s.value for s in found.steps if s.what == advice.setup and s.part == "what is recommended"]
    assert reason == advice.reason.value


def test_a_measure_that_was_not_weighed(judged: Path) -> None:
    with pytest.raises(UsageError) as error:
        explain(judged, "night-ferry/regret")
    assert error.value.problems[0].slug == "no-such-run"
