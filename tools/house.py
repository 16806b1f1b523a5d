"""The rules of the house as data: which room may import which, how large files may be, and where an exception stands.

Read by the tests in tests/contracts/ and printed in docs/architecture.md by make_docs.py.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent.parent
SOURCE: Final = ROOT / "src" / "evenhand"

_MODELS: Final = (
    "bench.model",
    "planning.model",
    "study.model",
    "frames.model",
    "measures.model",
    "screening.model",
    "judging.model",
    "judging.advice.model",
    "rehearsal.model",
)
_GROUND: Final = ("errors", "units", "wording")

#: Room (or lone module) -> what it may import of the house besides itself: whole rooms, or single modules of a room.
#: From the ground upwards; `evenhand` itself (its version) is open to all.
LAYERS: Final[dict[str, tuple[str, ...]]] = {
    "errors": (),
    "units": ("errors",),
    "wording": ("errors", "units"),
    "stats": ("errors",),
    "study": _GROUND,
    "frames": (*_GROUND, "stats"),
    "bench": (*_GROUND, "study.model"),
    "measures": (*_GROUND, "stats", "frames"),
    "screening": (*_GROUND, "stats", "study.model", "frames", "measures"),
    "planning": (*_GROUND, "stats", "study.model"),
    "judging": (*_GROUND, "stats", "study.model", "measures.model", "screening.model"),
    "rehearsal": (*_GROUND, "stats", "study", "planning", "frames", "measures", "screening", "judging"),
    "charts": (*_GROUND, "stats", *_MODELS, "measures.catalogue"),
    "writeup": (*_GROUND, "stats", *_MODELS, "measures.catalogue", "screening.catalogue", "charts"),
    "book": (*_GROUND, *_MODELS),
    "examples": (*_GROUND, "stats", "study", "frames.model"),
    "steps": (
        *_GROUND,
        "stats",
        "study",
        "frames",
        "measures",
        "screening",
        "judging",
        "bench",
        "planning",
        "rehearsal",
        "charts",
        "writeup",
        "book",
        "examples",
    ),
    "cli": (*_GROUND, "steps", "study.guess", "writeup.model"),  # the latter two as types only: what a step hands over
    "__main__": ("cli",),
}

#: Room -> libraries it may import beside Python's own. numpy is open to every room of the work.
LIBRARIES: Final[dict[str, tuple[str, ...]]] = {
    "stats": ("numpy", "scipy"),
    "study": ("msgspec",),
    "frames": ("numpy", "scipy", "polars", "zstandard"),
    "measures": ("numpy", "scipy"),
    "screening": ("numpy", "scipy"),
    "planning": ("numpy", "icalendar"),
    "judging": ("numpy", "scipy", "polars"),
    "rehearsal": ("numpy", "scipy"),
    "charts": ("numpy", "altair", "vl_convert"),
    "writeup": ("numpy", "jinja2", "markupsafe"),
    "book": ("numpy", "polars", "zstandard", "msgspec"),
    "examples": ("numpy", "scipy"),
    "steps": ("numpy", "polars", "msgspec"),
    "cli": ("typer", "rich", "click"),
}

MOST_LINES: Final = 400
MOST_BODY_LINES: Final = 40

#: File, relative to the checkout -> why it may be longer than `MOST_LINES`.
LONG_FILES: Final[dict[str, str]] = {}

#: "file: function" -> why its body may be longer than `MOST_BODY_LINES`.
LONG_BODIES: Final[dict[str, str]] = {}


@dataclass(frozen=True, slots=True)
class Import:
    """One import statement's target. `hidden`: inside a function or class. `for_types`: under `if TYPE_CHECKING`."""

    file: Path
    line: int
    target: str
    hidden: bool
    for_types: bool

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT).as_posix()}:{self.line} imports {self.target}"


def modules() -> list[Path]:
    """Every Python file of the package, in order."""
    return sorted(SOURCE.rglob("*.py"))


def room_of(file: Path) -> str:
    """The room a file stands in, or the lone module's own name; the package's `__init__` is the house itself."""
    parts = file.relative_to(SOURCE).with_suffix("").parts
    return "evenhand" if parts == ("__init__",) else parts[0]


def imports_of(file: Path) -> list[Import]:
    """All imports of a file, those under `if TYPE_CHECKING` included."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    scopes = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    hidden = {id(inner) for outer in ast.walk(tree) if isinstance(outer, scopes) for inner in ast.walk(outer)}
    for_types = {id(inner) for outer in ast.walk(tree) if _asks_for_types(outer) for inner in ast.walk(outer)}
    return [
        Import(file, node.lineno, target, id(node) in hidden, id(node) in for_types)
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for target in _targets(node)
    ]


def _asks_for_types(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _targets(node: ast.Import | ast.ImportFrom) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    else:
        module = "." * node.level + (node.module or "")
        for alias in node.names:
            yield f"{module}.{alias.name}" if _is_module(f"{module}.{alias.name}") else module


def _is_module(dotted: str) -> bool:
    path = ROOT / "src" / Path(*dotted.split("."))
    return dotted.startswith("evenhand.") and (path.with_suffix(".py").exists() or path.is_dir())


def allowed(room: str, target: str) -> bool:
    """Whether a file of `room` may import `target`, the dotted name of a module of the house."""
    inside = target.removeprefix("evenhand").removeprefix(".")
    if not inside or inside.split(".")[0] == room:
        return True
    return any(inside == other or inside.startswith(other + ".") for other in LAYERS[room])
