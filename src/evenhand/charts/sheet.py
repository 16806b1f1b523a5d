"""The parts every chart is made of: a sheet, panels with their scales, and layers of marks.

A sheet is one layered Vega-Lite view whose pixels are those of the picture (`autosize: none`, no padding), so its size is exact.
A row of a layer gives each position either in the panel's scale (`x`, `y`, `x2`, `y2`) or in pixels of the sheet (`px`, `py` …).
Text from outside only ever stands in data, never in an expression.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from evenhand import wording
from evenhand.charts.lettering import SERIF_BOLD_FILE, SERIF_FILE, wrapped
from evenhand.charts.model import Form, Theme
from evenhand.measures.model import Measure

SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v6.json"

Row: TypeAlias = dict[str, Any]
Layer: TypeAlias = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Panel:
    """A rectangle of the sheet, in pixels from its top left corner, with the domains that are mapped onto it."""

    left: float
    top: float
    right: float
    bottom: float
    x: tuple[float, float] | None = None
    y: tuple[float, float] | None = None
    log_x: bool = False
    log_y: bool = False

    def to_px(self, value: float) -> float:
        """Pixel at which the x scale puts `value`."""
        if self.x is None:
            raise ValueError("a panel without an x scale")
        return self.left + _share(self.x, value, self.log_x) * (self.right - self.left)

    def to_py(self, value: float) -> float:
        """Pixel at which the y scale puts `value`."""
        if self.y is None:
            raise ValueError("a panel without a y scale")
        return self.bottom - _share(self.y, value, self.log_y) * (self.bottom - self.top)


def _share(domain: tuple[float, float], value: float, log: bool) -> float:
    """How far along a domain a value lies, 0 to 1."""
    low, high, at = (math.log(v) if log else v for v in (*domain, value))
    return (at - low) / (high - low)


def sheet(form: Form, height: float, theme: Theme, layers: Sequence[Layer]) -> dict[str, Any]:
    """The specification of a whole picture."""
    return {
        "$schema": SCHEMA,
        "width": form.width,
        "height": form.height or math.ceil(height),
        "autosize": "none",
        "padding": 0,
        "background": theme.paper,
        "config": {"view": {"stroke": None}, "aria": False, "font": theme.sans},
        "resolve": {"scale": {"x": "independent", "y": "independent"}},
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }


def texts(
    panel: Panel,
    theme: Theme,
    rows: Sequence[Row],
    size: float,
    *,
    align: str = "left",
    colour: str | None = None,
    weight: int = 400,
    italic: bool = False,
    serif: bool = False,
    baseline: str = "middle",
) -> Layer:
    """Text; each row's `t` is drawn as it is."""
    mark = {
        "type": "text",
        "font": theme.serif if serif else theme.sans,
        "fontSize": round(size, 1),
        "fontWeight": weight,
        "fontStyle": "italic" if italic else "normal",
        "align": align,
        "baseline": baseline,
        "color": colour or theme.ink,
    }
    return _layer(panel, rows, mark, {"text": {"field": "t", "type": "nominal"}})


def rules(
    panel: Panel, rows: Sequence[Row], colour: str | None, width: float, *, opacity: float = 1.0, cap: str = "butt"
) -> Layer:
    """Straight lines; without `colour` each row gives its own as `c`."""
    mark: dict[str, Any] = {"type": "rule", "strokeWidth": round(width, 2), "strokeCap": cap, "opacity": opacity}
    return _layer(panel, rows, mark | ({"color": colour} if colour else {}), {} if colour else {"stroke": _raw("c")})


def bands(panel: Panel, rows: Sequence[Row], colour: str) -> Layer:
    """Filled rectangles."""
    return _layer(panel, rows, {"type": "rect", "color": colour}, {})


def points(panel: Panel, rows: Sequence[Row], size: float, stroke: float) -> Layer:
    """Marks; each row gives `shape`, `fill` and `c` (outline). `size` is the diameter of a circle in pixels."""
    mark = {"type": "point", "size": round(size * size * 0.785, 1), "strokeWidth": round(stroke, 2), "opacity": 1}
    return _layer(panel, rows, mark, {"shape": _raw("shape"), "fill": _raw("fill"), "stroke": _raw("c")})


def lines(panel: Panel, rows: Sequence[Row], colour: str, width: float, *, opacity: float = 1.0) -> Layer:
    """One line through the rows in the order of their `i`."""
    mark = {"type": "line", "color": colour, "strokeWidth": round(width, 2), "strokeJoin": "round", "opacity": opacity}
    return _layer(panel, rows, mark, {"order": {"field": "i", "type": "quantitative"}})


def areas(panel: Panel, rows: Sequence[Row], colour: str, opacity: float) -> Layer:
    """The ground between `y` and `y2` along `x`."""
    return _layer(panel, rows, {"type": "area", "color": colour, "opacity": opacity}, {})


def _layer(panel: Panel, rows: Sequence[Row], mark: Mapping[str, Any], encoding: Mapping[str, Any]) -> Layer:
    keys = rows[0].keys() if rows else ()
    places: dict[str, Any] = {}
    for channel in ("x", "y"):
        if channel in keys:
            places[channel] = {
                "field": channel,
                "type": "quantitative",
                "scale": _scale(panel, channel),
                "axis": None,
                "stack": None,
            }
        elif f"p{channel}" in keys:
            places[channel] = {"field": f"p{channel}", "type": "quantitative", "scale": None, "axis": None, "stack": None}
        for second in (f"{channel}2", f"p{channel}2"):
            if second in keys:
                places[f"{channel}2"] = {"field": second}
    return {"data": {"values": [dict(row) for row in rows]}, "mark": dict(mark), "encoding": places | dict(encoding)}


def _scale(panel: Panel, channel: str) -> dict[str, Any]:
    domain = panel.x if channel == "x" else panel.y
    if domain is None:
        raise ValueError(f"a panel without a scale for {channel}")
    ends = [panel.left, panel.right] if channel == "x" else [panel.bottom, panel.top]
    kind = {"type": "log"} if (panel.log_x if channel == "x" else panel.log_y) else {"zero": False}
    return {"domain": list(domain), "range": [round(e, 2) for e in ends], "nice": False, **kind}


def _raw(field: str) -> dict[str, Any]:
    return {"field": field, "type": "nominal", "scale": None}


def ticks(low: float, high: float, most: int) -> list[float]:
    """At most `most` round numbers (1, 2 or 5 times a power of ten apart) in [low, high]."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        return [low]
    power = math.floor(math.log10(span / most))
    step = next(s for k in range(power, power + 3) for s in (10.0**k, 2 * 10.0**k, 5 * 10.0**k) if span / s <= most)
    first = math.ceil(low / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / step + 1e-9) + 1)]


def log_ticks(low: float, high: float) -> list[float]:
    """1, 2 and 5 times the powers of ten in [low, high]; where that is less than three numbers, evenly spaced round ones."""
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [m * 10.0**k for k in powers for m in (1, 2, 5) if low <= m * 10.0**k <= high]
    return found if len(found) > 2 else ticks(low, high, 4)


def heading(form: Form, theme: Theme, title: str, subtitle: str, foot: str) -> tuple[list[Layer], float, float]:
    """Heading and foot of a picture that stands alone, with the pixels they take above and below; nothing in the page."""
    if not form.titled:
        return [], 0.0, 0.0
    edge, t = margin_of(form), form.text
    whole = Panel(0, 0, form.width, form.height or 0)
    room = form.width - 2 * edge
    big = wrapped(wording.plain(title), 1.5 * t, room, 1, SERIF_BOLD_FILE)
    small = wrapped(wording.plain(subtitle), 0.95 * t, room, 2, SERIF_FILE)
    last = wrapped(wording.plain(foot, 400), 0.72 * t, room, 2)
    above = edge + 1.5 * t + 1.35 * t * len(small) + 0.8 * t
    below = edge * 0.7 + 1.05 * t * len(last)
    bottom = form.height or 0
    layers = [
        texts(whole, theme, [{"t": big[0], "px": edge, "py": edge + 0.75 * t}], 1.5 * t, weight=600, serif=True),
        texts(
            whole,
            theme,
            [{"t": s, "px": edge, "py": edge + 2.45 * t + 1.3 * t * i} for i, s in enumerate(small)],
            0.95 * t,
            serif=True,
            colour=theme.soft,
        ),
        texts(
            whole,
            theme,
            [{"t": s, "px": edge, "py": bottom - below + 0.6 * t + 1.05 * t * i} for i, s in enumerate(last)],
            0.72 * t,
            colour=theme.soft,
        ),
        rules(
            whole,
            [{"px": edge / 3 + d, "px2": edge / 3 + d, "py": 0, "py2": bottom} for d in (0, 5)],
            theme.margin_line,
            1.2,
            opacity=0.7,
        ),
    ]
    return layers, above, below


def margin_of(form: Form) -> float:
    """Free pixels left and right."""
    return 2.6 * form.text if form.titled else 2.0


def spoken(measure: Measure) -> str:
    """A measure's label as it stands inside a sentence; short for the average."""
    return "average" if measure.key == "average" else f"{measure.label[:1].lower()}{measure.label[1:]}"


def sentence(text: str) -> str:
    """`text` with a capital at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"


def legible(label: str) -> str:
    """A label from outside, fit to be drawn: no control characters, no direction overrides."""
    return wording.plain(label, 120)
