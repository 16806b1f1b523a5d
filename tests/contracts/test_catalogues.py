"""Catalogues: every row complete, every row used in a test."""

from __future__ import annotations

from pathlib import Path

import house
import pytest

from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Measure, Scale
from evenhand.screening.catalogue import CHECKS
from evenhand.screening.model import Check

MEASURES = (
    "average",
    "low1_percentile",
    "low1_tail_mean",
    "low1_time_share",
    "low01_percentile",
    "low01_tail_mean",
    "low01_time_share",
    "pace_change",
    "hitches",
    "hitch_time",
    "below_target",
    "energy",
    "low_stated",
    "score",
    "score_lower",
)
SLUGS = (
    "too-short",
    "other-content",
    "capped",
    "first-run",
    "odd-run",
    "drift",
    "lone-stall",
    "busy-machine",
    "clock-trouble",
    "same-log",
    "wrong-setup",
    "bad-rows",
)


@pytest.fixture(scope="module")
def tests() -> str:
    """All tests but the contracts, which name everything."""
    files = [p for p in (house.ROOT / "tests").rglob("*.py") if Path(__file__).parent not in p.parents]
    return "\n".join(p.read_text(encoding="utf-8") for p in files)


def test_the_promised_measures_and_checks_are_there() -> None:
    assert tuple(CATALOGUE) == MEASURES
    assert set(SLUGS) <= set(CHECKS)


@pytest.mark.parametrize("row", CATALOGUE.values(), ids=list(CATALOGUE))
def test_measure_is_complete(row: Measure) -> None:
    assert CATALOGUE[row.key] is row
    assert all((row.label, row.unit, row.help, row.source))
    assert row.margin > 0
    assert (row.low is None) == (row.tail_share is None)
    assert not (row.scale is Scale.LOG and row.margin >= 1), "a margin on the log scale is a fraction"


@pytest.mark.parametrize("key", MEASURES)
def test_measure_is_tested(key: str, tests: str) -> None:
    assert f'"{key}"' in tests


@pytest.mark.parametrize("row", CHECKS.values(), ids=list(CHECKS))
def test_check_is_complete(row: Check) -> None:
    assert CHECKS[row.slug] is row
    assert all((row.label, row.looks_for, row.why, row.advice))


@pytest.mark.parametrize("slug", SLUGS)
def test_check_is_tested(slug: str, tests: str) -> None:
    assert f'"{slug}"' in tests
