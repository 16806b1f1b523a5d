"""Every failure that errors.py names is raised somewhere, stands on the messages page, and is shown in some test."""

from __future__ import annotations

import ast

import house
import pytest

from evenhand.errors import FAILURES, EvenhandError, Problem

PAGE = house.ROOT / "docs" / "messages.md"


def words_in(folder: str) -> set[str]:
    """Every text constant in the code below a folder, errors.py left out."""
    found: set[str] = set()
    for file in (house.ROOT / folder).rglob("*.py"):
        if file != house.SOURCE / "errors.py":
            tree = ast.parse(file.read_text(encoding="utf-8"))
            found.update(n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str))
    return found


def test_every_failure_is_raised_somewhere() -> None:
    in_source = words_in("src")
    assert not [slug for slug in FAILURES if slug not in in_source]


def test_every_failure_is_shown_in_a_test() -> None:
    """A slug may stand alone or inside a whole message."""
    in_tests = "\n".join(words_in("tests"))
    assert not [slug for slug in FAILURES if slug not in in_tests]


def test_every_failure_has_its_place_on_the_page() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert not [slug for slug in FAILURES if f"### {slug}\n" not in page]


def test_failures_are_one_line_each() -> None:
    for slug, line in FAILURES.items():
        assert slug == slug.lower().replace(" ", "-")
        assert line and "\n" not in line and not line.endswith(".")


def test_nothing_fails_with_a_name_that_errors_does_not_know() -> None:
    with pytest.raises(KeyError):
        Problem("no-such-failure", "what")


def test_every_error_carries_a_problem() -> None:
    with pytest.raises(ValueError, match="without a problem"):
        EvenhandError(())
