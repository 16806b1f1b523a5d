"""Imports go down the house only, stand at the top of their file, and no room's `__init__` pulls anything heavy in."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import house
import pytest

FILES = house.modules()


@pytest.fixture(scope="module")
def imports() -> list[house.Import]:
    return [found for file in FILES for found in house.imports_of(file)]


def inside(target: str) -> bool:
    return target.split(".")[0] == "evenhand"


def test_every_room_has_a_row_in_the_table() -> None:
    rooms = {house.room_of(file) for file in FILES} - {"evenhand"}
    assert rooms <= set(house.LAYERS)
    assert set(house.LAYERS) <= rooms


def test_the_table_itself_has_no_circle() -> None:
    """Rooms stand in order: each may import only what stands before it, except that models of rooms above may be named."""
    seen: set[str] = set()
    for room, targets in house.LAYERS.items():
        whole = {target for target in targets if "." not in target}
        assert whole <= seen, f"{room} may import {whole - seen}, which stand above it"
        seen.add(room)


def test_imports_follow_the_table(imports: list[house.Import]) -> None:
    wrong = [
        str(found)
        for found in imports
        if inside(found.target) and (room := house.room_of(found.file)) != "evenhand" and not house.allowed(room, found.target)
    ]
    assert not wrong, "\n".join(wrong)


def test_models_import_only_models(imports: list[house.Import]) -> None:
    """A room's model may be imported from far above; it must bring nothing but other models and the ground with it."""
    wrong = [
        str(found)
        for found in imports
        if "model" in (found.file.stem, found.file.parent.name)
        and inside(found.target)
        and "model" not in found.target.split(".")
        and not found.target.endswith(house.LAYERS["study"])
    ]
    assert not wrong, "\n".join(wrong)


def test_libraries_stay_in_their_rooms(imports: list[house.Import]) -> None:
    wrong = [
        str(found)
        for found in imports
        if not inside(found.target)
        and (top := found.target.split(".")[0]) not in sys.stdlib_module_names
        and top not in house.LIBRARIES.get(house.room_of(found.file), ())
    ]
    assert not wrong, "\n".join(wrong)


def test_no_import_is_hidden_in_a_function(imports: list[house.Import]) -> None:
    assert not [str(found) for found in imports if found.hidden]


def test_no_import_is_relative(imports: list[house.Import]) -> None:
    assert not [str(found) for found in imports if found.target.startswith(".")]


#: A model that has grown into a package gathers its nouns at its door; it is no room to enter.
ENTRANCES = [file for file in FILES if file.name == "__init__.py" and file.parent != house.SOURCE and file.parent.name != "model"]


@pytest.mark.parametrize("file", ENTRANCES, ids=lambda file: file.parent.name)
def test_a_room_is_light_to_enter(file: Path) -> None:
    """Nothing is imported on the way in but the standard library; `steps` names its modules and loads them when used."""
    loaded = [found for found in house.imports_of(file) if not found.for_types]
    assert not [str(found) for found in loaded if found.target.split(".")[0] not in sys.stdlib_module_names]


def test_modules_are_loaded_by_name_in_one_place_only() -> None:
    """`import_module` would walk round the table."""
    callers = set()
    for file in FILES:
        names = {n.id for n in ast.walk(ast.parse(file.read_text(encoding="utf-8"))) if isinstance(n, ast.Name)}
        if names & {"import_module", "__import__"}:
            callers.add(file.relative_to(house.SOURCE).as_posix())
    assert callers <= {"steps/__init__.py"}


def test_the_check_sees_a_wrong_import(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(house, "ROOT", tmp_path)
    monkeypatch.setattr(house, "SOURCE", tmp_path / "src" / "evenhand")
    file = house.SOURCE / "stats" / "wrong.py"
    file.parent.mkdir(parents=True)
    (house.SOURCE / "book").mkdir()
    file.write_text("from evenhand import book\n\ndef f():\n    import json\n", encoding="utf-8")
    found = house.imports_of(file)
    assert [(i.target, i.hidden) for i in found] == [("evenhand.book", False), ("json", True)]
    assert not house.allowed(house.room_of(file), "evenhand.book")
    assert house.allowed("judging", "evenhand.measures.model")
    assert not house.allowed("judging", "evenhand.measures.compute")
