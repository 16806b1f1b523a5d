"""Effects of a title hold at once, and knees are told wrongly no more often than the verdicts allow: counted, seeds fixed."""

from __future__ import annotations

import math

import pytest

from evenhand.rehearsal.factors import CURVES, count_effects, count_levels
from evenhand.rehearsal.simulate import Truth


@pytest.mark.parametrize(
    ("factors", "titles", "visits", "shift"), [(2, 8, 2, 0.02), (3, 1, 2, 0.0), (3, 8, 2, 0.03), (4, 8, 2, 0.01)]
)
def test_all_effects_hold_at_once(factors: int, titles: int, visits: int, shift: float) -> None:
    found = count_effects(factors, Truth(titles, 2, visits, 2, 0.02, shift, 0.005), 1500, 21)
    assert found.family.value >= 0.94 - 2 * found.family.error


def test_each_alone_would_claim_too_much() -> None:
    """Seven effects that are not there: a third of studies would claim one."""
    found = count_effects(3, Truth(8, 2, 2, 2, 0.02, 0.0, 0.005), 1500, 4)
    assert found.pointwise.value < 0.80 < 0.94 <= found.family.value


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize(("titles", "visits", "shift"), [(1, 3, 0.0), (8, 2, 0.02)])
def test_curves_and_knees(curve: str, titles: int, visits: int, shift: float) -> None:
    found = count_levels(CURVES[curve], Truth(titles, 4, visits, 2, 0.02, shift, 0.005), 1200, 8)
    assert found.band.value >= 0.94 - 2 * found.band.error
    assert found.too_high.value <= 0.025 + 2 * found.too_high.error
    assert found.too_low.value <= 0.05 + 2 * found.too_low.error


def test_quiet_runs_tell_the_knee() -> None:
    found = count_levels(CURVES["pays up to the third"], Truth(8, 4, 3, 2, 0.005, 0.003), 400, 2)
    assert found.told.value > 0.85 and found.too_low.value + found.too_high.value < 0.05
    assert math.isfinite(found.band.error)
