"""From a Chart to SVG and PNG of an exact size, without a browser and without a network.

Fonts: the two families of the bench book are registered once. A family that is not registered draws nothing without a word, so
each list ends in a generic family, and a test looks for dark pixels where a label must be.
"""

from __future__ import annotations

import re
from functools import cache
from html import escape
from typing import Final

import vl_convert

from evenhand.charts.model import Chart
from evenhand.charts.theme import FONT_FOLDER
from evenhand.errors import ChartError, Problem

VEGA_LITE: Final = "6.4"
_NUMBER: Final = re.compile(r"-?\d*\.\d{2,}")
_TAGS: Final = re.compile(r"<[^>]*>")
_SPARE: Final = re.compile(
    r' (?:aria-roledescription|aria-hidden|class|role|stroke-miterlimit|xmlns:xlink|version)="[^"]*"|px(?=")| opacity="1"'
    r'| font-style="normal"| font-weight="400"| text-anchor="start"'
)
_ROOT: Final = re.compile(r"^<svg[^>]*>(<rect[^>]*/>)?")
_EMPTY: Final = re.compile(r'<path d="" display="none"/>|<path[^>]*d="M0\.5,0\.5h\d+v\d+h-\d+Z"/>')


@cache
def _register() -> None:
    vl_convert.register_font_directory(str(FONT_FOLDER))


def svg(chart: Chart) -> str:
    """The chart as an SVG of `chart.width` × `chart.height`, with its alternative text, small enough to stand in a page.

    Numbers are rounded to a tenth of a pixel. The ground is transparent: the sheet it lies on gives the colour.
    Raises ChartError where the specification cannot be drawn.
    """
    return _root(chart, chart.width, chart.height, _inside(chart))


def picture_svg(chart: Chart, width: int = 1920, height: int = 1080) -> str:
    """The chart with its paper, alone in a file of exactly width × height."""
    paper = f'<rect width="{chart.width}" height="{chart.height}" fill="{chart.spec["background"]}"/>'
    ground = f'<rect width="{width}" height="{height}" fill="{chart.spec["background"]}"/>'
    inner = _root(chart, chart.width, chart.height, paper + _inside(chart))
    inner = inner.replace("<svg ", '<svg x="0" y="0" preserveAspectRatio="xMidYMid meet" ', 1)
    inner = re.sub(r' width="\d+" height="\d+"', f' width="{width}" height="{height}"', inner, count=1)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">{ground}{inner}</svg>'


def png(chart: Chart, width: int = 1920, height: int = 1080) -> bytes:
    """The chart as a PNG of exactly width × height pixels, on its paper."""
    _register()
    return bytes(vl_convert.svg_to_png(picture_svg(chart, width, height), scale=1.0))


def _inside(chart: Chart) -> str:
    """What Vega draws, without its root element and without what a reader never sees."""
    _register()
    try:
        drawn = str(vl_convert.vegalite_to_svg(dict(chart.spec), vl_version=VEGA_LITE))
    except ValueError as error:
        lines = str(error).strip().splitlines() or ["no word from the drawing library"]
        raise ChartError(
            Problem(
                "chart-not-drawn", f"the chart {chart.name!r} cannot be drawn: {lines[0]}", do="report this with the study file"
            )
        ) from error
    body = _ROOT.sub("", drawn).removesuffix("</svg>")
    body = _TAGS.sub(lambda tag: _short(tag.group()), body)
    body = _EMPTY.sub("", body)
    while "<g></g>" in body:
        body = body.replace("<g></g>", "")
    return body.replace('id="clip', f'id="{chart.name}-clip').replace("url(#clip", f"url(#{chart.name}-clip")


def _short(tag: str) -> str:
    """A tag without attributes that say what holds anyway, its numbers to a tenth of a pixel. Text between tags is untouched."""
    return _NUMBER.sub(lambda n: f"{float(n.group()):.1f}".removesuffix(".0").replace("-0.0", "0"), _SPARE.sub("", tag))


def _root(chart: Chart, width: int, height: int, inside: str) -> str:
    label = escape(chart.alt, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{label}">{inside}</svg>'
    )
