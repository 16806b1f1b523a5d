"""The nouns of drawing: a theme and a chart.

A chart is a function from nouns to a `Chart` (a declarative Vega-Lite specification as plain data); the theme is an argument,
never a global. `charts.draw` turns a Chart into SVG or PNG bytes of an exact size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours, fonts, and marks. `setup_colours`, `setup_marks` are cycled in the study's order."""

    name: str
    paper: str
    sheet: str
    ink: str
    soft: str
    rule: str
    margin_line: str
    setup_colours: tuple[str, ...]
    setup_marks: tuple[str, ...]
    serif: str
    sans: str


@dataclass(frozen=True, slots=True)
class Chart:
    """spec : Vega-Lite, plain data. alt : what the chart shows, in words. name : file name stem."""

    name: str
    spec: Mapping[str, Any]
    alt: str
    width: int
    height: int
