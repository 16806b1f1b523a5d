"""From a Chart to SVG and PNG of an exact size, without a browser and without a network.

Fonts: the two families of the bench book are registered once. A family that is not registered draws nothing without a word, so
each list ends in a generic family, and a test looks for dark pixels where a label must be.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from html import escape
from typing import Final

import vl_convert

from evenhand.charts.compact import compact
from evenhand.charts.model import Chart
from evenhand.charts.theme import FONT_FOLDER
from evenhand.errors import ChartError, Problem

VEGA_LITE: Final = "6.4"


@cache
def _register() -> None:
    vl_convert.register_font_directory(str(FONT_FOLDER))


def svg(chart: Chart) -> str:
    """The chart as an SVG of `chart.width` × `chart.height`, with its alternative text, small enough to stand in a page.

    Numbers are rounded to a tenth of a pixel. The ground is transparent: the sheet it lies on gives the colour.
    Raises ChartError where the specification cannot be drawn.
    """
    return svgs([chart])[0]


def svgs(charts: Sequence[Chart]) -> list[str]:
    """The same for several charts at once. Drawing has a fixed price a call, so a report draws the charts of a title together."""
    return [_root(c, c.width, c.height, inside) for c, inside in zip(charts, _insides(charts), strict=True)]


def picture_svg(chart: Chart, width: int = 1920, height: int = 1080) -> str:
    """The chart with its paper, alone in a file of exactly width × height."""
    paper = f'<rect width="{chart.width}" height="{chart.height}" fill="{chart.spec["background"]}"/>'
    ground = f'<rect width="{width}" height="{height}" fill="{chart.spec["background"]}"/>'
    inner = _root(chart, chart.width, chart.height, paper + _insides([chart])[0])
    inner = inner.replace("<svg ", '<svg x="0" y="0" preserveAspectRatio="xMidYMid meet" ', 1)
    inner = re.sub(r' width="\d+" height="\d+"', f' width="{width}" height="{height}"', inner, count=1)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">{ground}{inner}</svg>'


def png(chart: Chart, width: int = 1920, height: int = 1080) -> bytes:
    """The chart as a PNG of exactly width × height pixels, on its paper."""
    _register()
    return bytes(vl_convert.svg_to_png(picture_svg(chart, width, height), scale=1.0))


def _insides(charts: Sequence[Chart]) -> list[str]:
    """What Vega draws, a text a chart. Every chart is one layered view that scales each layer on its own, so the layers of
    several can be drawn as one and taken apart again.
    """
    _register()
    spec = {**charts[0].spec, "layer": [layer for c in charts for layer in c.spec["layer"]]}
    try:
        drawn = str(vl_convert.vegalite_to_svg(json.dumps(spec), vl_version=VEGA_LITE))
        return compact(drawn, [len(c.spec["layer"]) for c in charts])
    except ValueError as error:
        said = (str(error).strip().splitlines() or ["no word from the drawing library"])[0]
        names = ", ".join(c.name for c in charts)
        raise ChartError(
            Problem("chart-not-drawn", f"the chart {names} cannot be drawn: {said}", do="tell the makers, with the study file")
        ) from error


def _root(chart: Chart, width: int, height: int, inside: str) -> str:
    label = escape(chart.alt, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" fill="none" '
        f'role="img" aria-label="{label}">{inside}</svg>'
    )
