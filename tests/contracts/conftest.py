"""The rules of the house and the maker of pages lie in tools/, beside the package; tests read them from there."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tools"))
