"""Published cases: `reference("03a-meta-bcg")` is the case as stored beside these tests; makes `judged` importable there."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parent / "reference"
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def reference() -> Callable[[str], dict[str, Any]]:
    def load(name: str) -> dict[str, Any]:
        case: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        return case

    return load
