"""The form shared by every chart of differences: rows of intervals around zero, side by side or below each other, each on its
margin band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.charts.best import INDENT, LEGEND, legend, strokes
from evenhand.charts.lettering import SANS_BOLD_FILE, SERIF_FILE, shortened, width_of, wrapped
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.sheet import Layer, Panel, Row, bands, heading, legible, margin_of, points, rules, sheet, texts, ticks
from evenhand.judging.model import Interval, MeasureJudgement
from evenhand.measures.model import Measure, Scale
from evenhand.units import number, percent_of_log


@dataclass(frozen=True, slots=True)
class Item:
    """One interval. All values in the units shown (per cent, or the measure's unit), as differences.

    column, row : its panel and row. lane : height within the row, 0 = top, 1 = bottom. wide : a second, lighter interval.
    margin : both edges of the band. words : printed beside it, may be empty.
    """

    column: int
    row: int
    lane: float
    value: float
    low: float
    high: float
    margin: tuple[float, float]
    colour: str
    shape: str
    filled: bool
    wide: tuple[float, float] | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Rows:
    """What a sheet of intervals shows.

    labels : of the rows. strong : rows set in bold (a summary). heads : of the panels, with (colour, mark) or None.
    unit : under the axis. lanes : how many intervals share a row; lane_names : what each is, filled mark first. best : rows of
    setups that may be the best, by `best_in`.
    """

    name: str
    title: str
    subtitle: str
    caption: str
    alt: str
    labels: tuple[str, ...]
    strong: frozenset[int]
    heads: tuple[tuple[str, tuple[str, str] | None], ...]
    unit: str
    items: tuple[Item, ...]
    lanes: int = 1
    lane_names: tuple[str, ...] = ()
    best: frozenset[int] = frozenset()
    best_in: MeasureJudgement | None = None


def shown(measure: Measure, value: float) -> float:
    """A difference on the measure's scale as it is printed: per cent for ratios, else as it is."""
    return percent_of_log(value) if measure.scale is Scale.LOG else value


def ends(measure: Measure, interval: Interval) -> tuple[float, float]:
    """Both ends of an interval as printed; infinite both where either has no end."""
    if not (math.isfinite(interval.low) and math.isfinite(interval.high)):
        return -math.inf, math.inf
    return shown(measure, interval.low), shown(measure, interval.high)


def margin_band(measure: Measure, margin: float) -> tuple[float, float]:
    """Both edges of the margin as printed: −2.9 and +3 % for a margin of log 1.03."""
    return shown(measure, -margin), shown(measure, margin)


def interval_sheet(rows: Rows, form: Form, theme: Theme) -> Chart:
    """Draw rows of intervals. On a sheet of fixed height the rows share it; type shrinks with them."""
    head, above, below = heading(form, theme, rows.title, rows.subtitle, rows.caption)
    plan = _Plan(rows, form, theme, above, below)
    layers = [*head, *(layer for k in range(len(rows.heads)) for layer in plan.panel(k))]
    height = form.height or math.ceil(plan.height)
    return Chart(rows.name, sheet(form, plan.height, theme, layers), rows.alt, form.width, height, rows.caption)


class _Plan:
    """Where everything of one sheet stands."""

    def __init__(self, rows: Rows, form: Form, theme: Theme, above: float, below: float) -> None:
        t = form.text
        self.rows, self.form, self.theme = rows, form, theme
        count, panels = len(rows.labels), len(rows.heads)
        self.has_heads = any(h for h, _ in rows.heads) or bool(rows.lane_names)
        least = 0.62 * form.width / (1 if form.stacked else panels) - 1.3 * t
        self.head_lines = max(len(wrapped(legible(h), t, least, 3)) for h, _ in rows.heads)
        self.indent = INDENT * t if rows.best else 0.0
        self.head_room = (0.7 + 1.2 * self.head_lines if self.has_heads else 0.6) * t + (LEGEND * t if rows.best else 0.0)
        wanted = (1.55 + 1.15 * (rows.lanes - 1)) * t
        if form.height:
            room = (form.height - above - below - self.head_room - 2.5 * t) / count
            self.step = min(room, 4.0 * t if rows.lanes == 1 else 7.0 * t)
        else:
            self.step = wanted
        self.size = min(t, 0.9 * self.step)
        edge = margin_of(form)
        widest = max(width_of(legible(label), self.size, SANS_BOLD_FILE) for label in rows.labels)
        self.label_room = min(widest + t, (0.4 if form.stacked else 0.3) * form.width) + self.indent
        self.edge, self.above = edge, above
        self.panel_height = self.head_room + self.step * count + 2.5 * t
        self.height = above + below + self.panel_height * (panels if form.stacked else 1)
        self.panel_width = (form.width - 2 * edge - self.label_room) / (1 if form.stacked else panels)
        self.gap = 0.0 if panels == 1 or form.stacked else 1.4 * t
        self.domain = self._domain()

    def _domain(self) -> tuple[float, float]:
        items = self.rows.items
        values = [v for i in items for v in (i.value, *i.margin)] + [0.0]
        reach = max(max(values) - min(values), 1e-9) * 0.6
        low = min(max(e, i.value - reach) for i in items for e in (i.low, i.wide[0] if i.wide else i.low))
        high = max(min(e, i.value + reach) for i in items for e in (i.high, i.wide[1] if i.wide else i.high))
        low, high = min(low, *values), max(high, *values)
        words = max(width_of(i.words, self.form.text, SANS_BOLD_FILE) for i in items)
        room = self.panel_width - self.gap - (words + 1.4 * self.form.text if words else 0)
        self.shown = low, high
        spare = (high - low) * 0.03
        return low - spare, high + spare + (high - low) * ((self.panel_width - self.gap) / max(room, 60) - 1)

    def panel(self, k: int) -> list[Layer]:
        """One panel: heads, row rules, bands, axis, intervals."""
        t, form = self.form.text, self.form
        top = self.above + (self.panel_height * k if form.stacked else 0) + self.head_room
        left = self.edge + self.label_room + (0 if form.stacked else self.panel_width * k) + self.gap
        right = left + self.panel_width - self.gap
        box = Panel(left, top, right, top + self.step * len(self.rows.labels), x=self.domain)
        items = [i for i in self.rows.items if i.column == k]
        return [*self._paper(box, k, items), *self._axis(box, k), *self._labels(box, k), *self._intervals(box, items, t)]

    def _y(self, box: Panel, item: Item) -> float:
        return box.top + self.step * (item.row + item.lane)

    def _paper(self, box: Panel, k: int, items: Sequence[Item]) -> list[Layer]:
        t, theme = self.form.text, self.theme
        half = self.step / self.rows.lanes / 2 * 0.86
        low, high = self.domain
        shade = [
            {
                "x": max(i.margin[0], low),
                "x2": min(i.margin[1], high),
                "py": self._y(box, i) - half,
                "py2": self._y(box, i) + half,
            }
            for i in items
        ]
        start = self.edge if k == 0 or self.form.stacked else box.left
        at = [box.top + self.step * r for r in range(len(self.rows.labels) + 1)]
        zero = box.to_px(0.0)
        return [
            bands(box, shade, theme.band),
            rules(box, [{"px": start, "px2": box.right, "py": y, "py2": y} for y in at], theme.rule, t / 18),
            rules(box, [{"px": zero, "px2": zero, "py": box.top, "py2": box.bottom}], theme.soft, t / 16),
        ]

    def _axis(self, box: Panel, k: int) -> list[Layer]:
        t, theme = self.form.text, self.theme
        low, high = self.shown  # what is right of it is room for words
        at = ticks(low, high, max(3, int((box.to_px(high) - box.to_px(low)) / (4.2 * t))))
        places = max(0, -math.floor(math.log10(at[1] - at[0]) + 1e-9)) if len(at) > 1 else 0
        under = box.bottom + 0.95 * t
        last = k == len(self.rows.heads) - 1 or self.form.stacked
        unit_left = box.right - width_of(self.rows.unit, 0.85 * t)
        texts_at = [{"t": number(v, places, sign=True), "px": box.to_px(v), "py": under} for v in at]
        own_line = self.form.stacked or len(self.rows.heads) > 1 or any(box.to_px(v) > unit_left - 1.2 * t for v in at)
        unit = {
            "t": shortened(self.rows.unit, 0.85 * t, 0.9 * self.form.width),
            "px": box.right,
            "py": under + (0.95 * t if own_line else 0),
        }
        return [
            texts(box, theme, texts_at, 0.85 * t, align="center", colour=theme.soft),
            texts(box, theme, [unit] if last else [], 0.85 * t, align="right", colour=theme.soft),
        ]

    def _labels(self, box: Panel, k: int) -> list[Layer]:
        t, theme = self.form.text, self.theme
        head, look = self.rows.heads[k]
        y = box.top - 0.9 * t
        head_at = box.left + (1.3 * t if look else 0)
        parts = wrapped(legible(head), t, box.right - head_at, self.head_lines) if head else ()
        heads = [{"t": part, "px": head_at, "py": y - 1.1 * t * (len(parts) - 1 - i)} for i, part in enumerate(parts)]
        mark = (
            [
                {
                    "px": box.left + 0.5 * t,
                    "py": y - 1.1 * t * max(len(parts) - 1, 0),
                    "shape": look[1],
                    "fill": look[0],
                    "c": look[0],
                }
            ]
            if look
            else []
        )
        layers = [
            points(box, mark, 0.8 * t, t / 8),
            texts(box, theme, heads, t),
        ]
        layers += self._lane_names(box, y)
        if self.rows.best_in and self.rows.best and k == 0:
            layers += legend(box, theme, self.rows.best_in, self.edge, y - LEGEND * t, t)
        if k == 0 or self.form.stacked:
            middles = [(self.edge, box.top + self.step * (r + 0.5)) for r in sorted(self.rows.best)]
            layers.append(strokes(box, theme, middles, self.size))
            for bold in (False, True):
                own = [
                    row
                    for r, label in enumerate(self.rows.labels)
                    if (r in self.rows.strong) is bold
                    for row in self._label(label, box.top + self.step * (r + 0.5))
                ]
                layers.append(texts(box, theme, own, self.size, weight=600 if bold else 400))
        return layers

    def _label(self, label: str, middle: float) -> list[Row]:
        """A row's label, in as many lines as the row has room for."""
        room = max(1, int(self.step / (1.15 * self.size)))
        parts = wrapped(legible(label), self.size, self.label_room - self.indent - 0.4 * self.form.text, min(room, 3))
        top = middle - 1.1 * self.size * (len(parts) - 1) / 2
        return [{"t": part, "px": self.edge + self.indent, "py": top + 1.1 * self.size * i} for i, part in enumerate(parts)]

    def _lane_names(self, box: Panel, y: float) -> list[Layer]:
        """Which mark is which measure, over the rows."""
        t, theme, layers = self.form.text, self.theme, []
        wide = sum(width_of(name, t, SERIF_FILE) + 2.6 * t for name in self.rows.lane_names) - 1.4 * t
        at = max(self.edge, min(box.left, box.right - wide))
        for name, fill in zip(self.rows.lane_names, (theme.ink, theme.paper), strict=False):
            layers += [
                points(box, [{"px": at + 0.4 * t, "py": y, "shape": "circle", "fill": fill, "c": theme.ink}], 0.62 * t, t / 10),
                texts(box, theme, [{"t": name, "px": at + 1.2 * t, "py": y}], t, italic=True, serif=True, colour=theme.soft),
            ]
            at += width_of(name, t, SERIF_FILE) + 2.6 * t
        return layers

    def _intervals(self, box: Panel, items: Sequence[Item], t: float) -> list[Layer]:
        low, high = self.shown
        thin, thick = [], []
        for i in items:
            place = {"py": self._y(box, i), "c": i.colour}
            if i.wide and all(map(math.isfinite, i.wide)):
                thin.append({"x": max(i.wide[0], low), "x2": min(i.wide[1], high), **place})
            if math.isfinite(i.low) and math.isfinite(i.high):
                thick.append({"x": max(i.low, low), "x2": min(i.high, high), **place})
        dots = [
            {
                "x": i.value,
                "py": self._y(box, i),
                "shape": i.shape,
                "fill": i.colour if i.filled else self.theme.paper,
                "c": i.colour,
            }
            for i in items
        ]
        words = [{"t": i.words, "px": self._beside(box, i, 0.9 * t), "py": self._y(box, i)} for i in items if i.words]
        cut = [
            {"px": box.to_px(end), "py": self._y(box, i), "shape": f"triangle-{way}", "fill": i.colour, "c": i.colour}
            for i in items
            for end, way in ((low, "left"), (high, "right"))
            if _goes_beyond(i, end, way == "right")
        ]
        return [
            points(box, cut, 0.4 * self.size, 0.5),
            rules(box, thin, None, self.size / 2.6, opacity=0.28),
            rules(box, thick, None, self.size / 6.5, cap="round"),
            points(box, dots, 0.72 * self.size, self.size / 8.5),
            texts(box, self.theme, words, 0.9 * t, weight=600),
        ]

    def _beside(self, box: Panel, item: Item, size: float) -> float:
        """Where the number of an item begins: to the right of everything drawn for it, and clear of the line at zero."""
        begins, zero = box.to_px(_farthest(item, self.shown[1])) + 0.78 * size, box.to_px(0.0)
        crossed = begins - 0.3 * size < zero < begins + width_of(item.words, size)
        return zero + 0.4 * size if crossed else begins


def _goes_beyond(item: Item, end: float, right: bool) -> bool:
    """Whether an interval is cut off at an end of the axis; an arrow says so."""
    reach = [item.high if right else item.low, *([item.wide[right]] if item.wide else [])]
    return any(math.isfinite(v) and (v > end if right else v < end) for v in reach)


def _farthest(item: Item, end: float) -> float:
    """Right end of everything drawn for an item."""
    reach = [v for v in (item.value, item.high, item.wide[1] if item.wide else item.value) if math.isfinite(v)]
    return min(max(reach), end)
