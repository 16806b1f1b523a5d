"""Every test against a value from outside names its source, is listed on its page, and uses cases that are really there."""

from __future__ import annotations

import re
from pathlib import Path

import house
import pytest

OUTSIDE = house.ROOT / "tests" / "outside"
PAGE = house.ROOT / "docs" / "methods" / "outside-checks.md"
TESTS = sorted(OUTSIDE.glob("test_*.py"))


@pytest.mark.parametrize("file", TESTS, ids=lambda file: file.name)
def test_is_listed_and_names_its_source(file: Path) -> None:
    assert f"`tests/outside/{file.name}`" in PAGE.read_text(encoding="utf-8")
    docstring = file.read_text(encoding="utf-8").split('"""')[1]
    assert re.search(r"\b(1[89]|20)\d\d\b|\bR\b|\bcases? \d\d[a-z]|\bstatsmodels\b|the game itself", docstring), docstring


def test_every_stored_case_is_used() -> None:
    used = "\n".join(file.read_text(encoding="utf-8") for file in TESTS)
    stored = [path.stem for path in sorted((OUTSIDE / "reference").glob("*.json"))]
    assert stored
    assert not [name for name in stored if name not in used]


def test_no_test_is_listed_that_is_not_there() -> None:
    listed = set(re.findall(r"`tests/outside/(test_\w+\.py)`", PAGE.read_text(encoding="utf-8")))
    assert listed == {file.name for file in TESTS}
