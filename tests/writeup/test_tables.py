"""Tables for spreadsheets: numbers come back equal, text is never a formula."""

from __future__ import annotations

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.writeup import sample

from evenhand.writeup.material import Material
from evenhand.writeup.tables import FORMULA_STARTS, csv_tables, csv_text, neutral


@pytest.fixture(scope="module")
def material() -> Material:
    return sample.material(sample.study(sample.TITLES[:2]), pictures=False)


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_numbers_come_back_equal(material: Material) -> None:
    found = rows(csv_tables(material)["cells.csv"])
    cells = [c for m in material.judgement.measures.values() for c in m.cells]
    assert [float(r["value"]) for r in found] == [c.value for c in cells]
    contrasts = rows(csv_tables(material)["comparisons.csv"])
    every = [c for m in material.judgement.measures.values() for c in m.comparisons]
    assert [(float(r["low"]), float(r["inner_high"])) for r in contrasts] == [(c.simultaneous.low, c.inner.high) for c in every]
    assert {r["verdict"] for r in contrasts} == {c.verdict.value for c in every}


def test_every_run_is_there_with_its_standing(material: Material) -> None:
    found = rows(csv_tables(material)["runs.csv"])
    assert len(found) == len(material.runs)
    assert [r["standing"] for r in found] == [r.standing.value for r in material.runs]
    assert found[0]["proven"] == "no"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1+1", "＝1", "\r=1"])
def test_formulas_are_neutralised(text: str) -> None:
    """The characters that OWASP's page on CSV injection names, their full-width twins, and blanks before them."""
    assert neutral(text).startswith("'")


@given(st.text(max_size=30))
def test_text_comes_back_and_is_no_formula(text: str) -> None:
    back = next(iter(csv.reader(io.StringIO(csv_text((text,), ()), newline=""))), [""])
    cell = back[0] if back else ""
    assert cell in (text, f"'{text}")
    assert not cell.lstrip(" \u00a0").startswith(FORMULA_STARTS)


def test_missing_numbers_are_empty_and_negative_ones_stay_numbers() -> None:
    assert csv_text(("a", "b", "c"), [(math.nan, -0.5, None)]) == "a,b,c\r\n,-0.5,\r\n"
    assert csv_text(("a",), [(True,), (7,)]) == "a\r\nyes\r\n7\r\n"
