"""Files of at most 400 lines, function bodies of at most 40, docstring not counted; exceptions carry a reason."""

from __future__ import annotations

import ast
from pathlib import Path

import house

CODE = [*sorted(p for top in ("src", "tools", "benchmarks") for p in (house.ROOT / top).rglob("*.py")), house.ROOT / "dev.py"]
TESTS = sorted((house.ROOT / "tests").rglob("*.py"))


def name(file: Path) -> str:
    return file.relative_to(house.ROOT).as_posix()


def bodies(file: Path) -> dict[str, int]:
    """Function -> lines from the first statement after the docstring to the last."""
    found = {}
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            said = node.body[1:] if ast.get_docstring(node) is not None else node.body
            lines = (said[-1].end_lineno or 0) - said[0].lineno + 1 if said else 0
            found[f"{name(file)}: {node.name}"] = lines
    return found


def test_files_are_short() -> None:
    lengths = {name(file): len(file.read_text(encoding="utf-8").splitlines()) for file in CODE + TESTS}
    long = {file: lines for file, lines in lengths.items() if lines > house.MOST_LINES}
    assert set(long) == set(house.LONG_FILES), long


def test_function_bodies_are_short() -> None:
    long = {where: lines for file in CODE for where, lines in bodies(file).items() if lines > house.MOST_BODY_LINES}
    assert set(long) == set(house.LONG_BODIES), long


def test_every_exception_has_a_reason() -> None:
    assert all(len(reason) > 20 for reason in (*house.LONG_FILES.values(), *house.LONG_BODIES.values()))


def test_docstring_is_not_counted() -> None:
    file = house.ROOT / "tests" / "contracts" / "test_sizes.py"
    assert bodies(file)[f"{name(file)}: bodies"] == 7


def test_no_file_is_called_utils() -> None:
    vague = {"utils", "util", "helpers", "helper", "common", "misc"}
    assert not [name(file) for file in CODE + TESTS if file.stem in vague]
