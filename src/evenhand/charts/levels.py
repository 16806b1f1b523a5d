"""What a factor does along its numbers: change against one level, one panel a measure, with a band that holds for all levels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, TypeAlias

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import margin_band, shown
from evenhand.charts.lettering import shortened, width_of, wrapped
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import difference
from evenhand.charts.sheet import (
    Layer,
    Panel,
    Row,
    areas,
    bands,
    heading,
    legible,
    lines,
    margin_of,
    points,
    rules,
    sentence,
    sheet,
    spoken,
    texts,
    ticks,
)
from evenhand.charts.theme import BENCH_BOOK, PAGE
from evenhand.charts.titles import margins_in_words, name_of
from evenhand.judging.model import LevelPoint, MeasureJudgement, Trend
from evenhand.measures.model import Scale
from evenhand.study.model import Factor, Study
from evenhand.units import NO_BREAK, number

_Found: TypeAlias = tuple[MeasureJudgement, Trend]

#: More than this of a panel's height beyond everything else, and a title's line or the band is cut off.
REACH: Final = 1.2
#: Share of the range of values that is left free at either end.
SPARE: Final = 0.06


def level_curves(
    study: Study,
    factor: str,
    measures: Sequence[MeasureJudgement],
    *,
    title: str | None = None,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """The curve over titles (or at one title) with those of the titles behind it. Raises ValueError where there is no trend."""
    found = [(m, t) for m in measures if (t := _trend(m, factor, title)) is not None]
    if not found:
        raise ValueError(f"{factor} has no trend")
    own = next(f for f in study.factors if f.name == factor)
    caption = _caption(study, own, found, title)
    alt = _alt(own, found)
    head, above, below = heading(form, theme, f"Along {legible(own.label)}{_where(study, title)}", study.question, caption)
    plan = _Plan(own, found, form, theme, above, below)
    layers = [*head, *(layer for k in range(len(found)) for layer in plan.panel(k))]
    height = form.height or math.ceil(plan.height)
    name = name_of("levels", factor) if title is None else name_of("levels", factor, title)
    return Chart(name, sheet(form, height, theme, layers), alt, form.width, height, caption)


def _trend(judged: MeasureJudgement, factor: str, title: str | None) -> Trend | None:
    return next((t for t in judged.trends if (t.factor, t.title) == (factor, title)), None)


class _Plan:
    """Where the panels stand and what is in them."""

    def __init__(
        self,
        factor: Factor,
        found: Sequence[_Found],
        form: Form,
        theme: Theme,
        above: float,
        below: float,
    ) -> None:
        t, edge = form.text, margin_of(form)
        self.factor, self.found, self.form, self.theme, self.t = factor, found, form, theme, t
        self.labels = {level.name: legible(level.label) for level in factor.levels}
        columns = 1 if form.stacked else len(found)
        rows = len(found) if form.stacked else 1
        axis, between, over, under = 3.4 * t, 1.6 * t, 1.9 * t, 2.8 * t
        width = (form.width - 2 * edge - axis - between * (columns - 1)) / columns
        if columns > 1:
            width -= axis / 2
        room = (form.height - above - below) / rows if form.height else (16 if form.stacked else 20) * t
        self.height = above + below + rows * room
        self.boxes = []
        for k, (judged, trend) in enumerate(found):
            left = edge + axis + (k % columns) * (width + between + axis)
            top = above + (k // columns) * room + over
            right = min(left + width, form.width - edge)
            spare = width_of(self.labels[trend.points[-1].level], 0.85 * t) / 2 - SPARE / (1 + 2 * SPARE) * (right - left)
            right -= max(spare, 0.0) if right > form.width - edge - 1 else 0.0
            self.boxes.append(Panel(left, top, right, top + room - over - under, _across(trend), _span(judged, trend)))

    def panel(self, k: int) -> list[Layer]:
        """One measure."""
        judged, trend = self.found[k]
        box = self.boxes[k]
        return [*self._ground(box, judged, trend), *self._titles(box, judged, trend), *self._curve(box, judged, trend)]

    def _ground(self, box: Panel, judged: MeasureJudgement, trend: Trend) -> list[Layer]:
        t, theme, m = self.t, self.theme, judged.measure
        low, high = box.y or (0.0, 1.0)
        margin = margin_band(m, trend.margin)
        shade = {"px": box.left, "px2": box.right, "y": max(margin[0], low), "y2": min(margin[1], high)}
        at = ticks(low, high, 8)
        places = max(0, -math.floor(math.log10(at[1] - at[0]) + 1e-9)) if len(at) > 1 else 0
        grid = [{"px": box.left, "px2": box.right, "y": v, "y2": v} for v in at]
        beside = [{"t": number(v, places, sign=True), "px": box.left - 0.5 * t, "y": v} for v in at]
        unit = "%" if m.scale is Scale.LOG else m.unit
        against = f"{sentence(spoken(m))}, {unit} against {self.labels[trend.reference]}"
        head = [{"t": shortened(against, t, box.right - box.left + 3.4 * t), "px": box.left - 3.4 * t, "py": box.top - 1.05 * t}]
        return [
            bands(box, [shade], theme.band),
            rules(box, grid, theme.rule, t / 18),
            rules(box, [{"px": box.left, "px2": box.right, "y": 0.0, "y2": 0.0}], theme.soft, t / 16),
            texts(box, theme, beside, 0.85 * t, align="right", colour=theme.soft),
            texts(box, theme, head, t),
            texts(box, theme, self._under(box, trend), 0.85 * t, align="center", colour=theme.soft),
        ]

    def _under(self, box: Panel, trend: Trend) -> list[Row]:
        """Labels of the levels: in two lines where one line each would not fit; one that still touches another is left out."""
        size = 0.85 * self.t
        gaps = [b - a for a, b in pairwise(box.to_px(p.value) for p in trend.points)]
        whole = self._labels(box, trend, size, math.inf)
        fitted = whole if len(whole) == len(trend.points) else self._labels(box, trend, size, min(gaps) - 0.6 * size)
        return [
            {"t": part, "px": middle, "py": box.bottom + (1.0 + 0.9 * i) * self.t}
            for middle, parts in fitted
            for i, part in enumerate(parts)
        ]

    def _labels(self, box: Panel, trend: Trend, size: float, room: float) -> list[tuple[float, tuple[str, ...]]]:
        """(middle, lines) of each label that does not touch one before it; the first and the last level come first."""
        found, taken = [], list[tuple[float, float]]()
        for point in (trend.points[0], trend.points[-1], *trend.points[1:-1]):
            parts = wrapped(self.labels[point.level], size, room, 2) if room > 2 * size else (self.labels[point.level],)
            half = max(width_of(part, size) for part in parts) / 2
            middle = min(max(box.to_px(point.value), box.left + half - 1.5 * self.t), self.form.width - half - 2)
            span = (middle - half - 0.3 * size, middle + half + 0.3 * size)
            if all(span[1] < low or span[0] > high for low, high in taken):
                taken.append(span)
                found.append((middle, parts))
        return found

    def _titles(self, box: Panel, judged: MeasureJudgement, trend: Trend) -> list[Layer]:
        """Behind a curve over titles, what was measured at each."""
        if trend.title is not None:
            return []
        low, high = box.y or (0.0, 1.0)
        own = [t for t in judged.trends if t.factor == trend.factor and t.title is not None]
        if len(own) < 2:
            return []
        pieces: list[Row] = []
        for one in own:
            values = [(p.value, shown(judged.measure, p.estimate)) for p in one.points]
            cut = [_inside(x, y, x2, y2, low, high) for (x, y), (x2, y2) in pairwise(values)]
            pieces += [piece for piece in cut if piece]
        return [rules(box, pieces, self.theme.soft, self.t / 18, opacity=0.45)]

    def _curve(self, box: Panel, judged: MeasureJudgement, trend: Trend) -> list[Layer]:
        t, theme, m = self.t, self.theme, judged.measure
        low, high = box.y or (0.0, 1.0)
        colour = theme.setup_colours[0]
        told = all(math.isfinite(p.low) and math.isfinite(p.high) for p in trend.points)
        band, fit, dots, words = [], [], [], []
        for i, p in enumerate(trend.points):
            ends = (shown(m, p.low), shown(m, p.high)) if told else (0.0, 0.0)
            band.append({"x": p.value, "y": max(ends[0], low), "y2": min(ends[1], high)})
            fit.append({"x": p.value, "y": shown(m, p.fitted), "i": i})
            at = shown(m, p.estimate)
            dots.append({"x": p.value, "y": at, "shape": "circle", "fill": colour, "c": colour})
            if p.level != trend.reference:
                words.append(self._beside(box, p, difference(m, p.estimate, _error(trend)), max(at, ends[1] if told else at)))
        whiskers = [{"x": r["x"], "x2": r["x"], "y": r["y"], "y2": r["y2"]} for r in band]
        return [
            areas(box, band if told else [], colour, 0.16),
            rules(box, whiskers if told else [], colour, t / 7, opacity=0.5, cap="round"),
            lines(box, fit, colour, t / 8),
            points(box, dots, 0.7 * t, t / 8),
            texts(box, theme, words, 0.9 * t, align="center", weight=600),
        ]

    def _beside(self, box: Panel, point: LevelPoint, word: str, above: float) -> Row:
        """The number over its level, kept inside the panel."""
        wide = width_of(word, 0.95 * self.t)
        middle = min(max(box.to_px(point.value), box.left + wide / 2), box.right - wide / 2)
        return {"t": word, "px": middle, "py": max(box.to_py(above) - 0.85 * self.t, box.top + 0.2 * self.t)}


def _error(trend: Trend) -> float:
    return max(s.se for s in trend.steps)


def _across(trend: Trend) -> tuple[float, float]:
    low, high = trend.points[0].value, trend.points[-1].value
    spare = SPARE * (high - low)
    return low - spare, high + spare


def _span(judged: MeasureJudgement, trend: Trend) -> tuple[float, float]:
    """All points and the margin, and of band and titles as much as does not make the curve small."""
    m = judged.measure
    middle = [shown(m, p.estimate) for p in trend.points]
    values = [*middle, *(shown(m, p.fitted) for p in trend.points), *margin_band(m, trend.margin), 0.0]
    low, high = min(values), max(values)
    reach = REACH * max(high - low, 1e-9)
    ends = [shown(m, e) for p in trend.points for e in (p.low, p.high) if math.isfinite(e)]
    others = [shown(m, p.estimate) for t in judged.trends if t.factor == trend.factor and trend.title is None for p in t.points]
    wide = [min(max(e, low - reach), high + reach) for e in (*ends, *others)]
    low, high = min([low, *wide]), max([high, *wide])
    return low - 0.05 * (high - low), high + 0.14 * (high - low)


def _inside(x: float, y: float, x2: float, y2: float, low: float, high: float) -> Row | None:
    """The part of a straight piece that lies between two heights; None where none does."""
    if max(y, y2) < low or min(y, y2) > high:
        return None
    span = [0.0, 1.0]
    if y != y2:
        for edge in (low, high):
            share = (edge - y) / (y2 - y)
            if 0 < share < 1:
                span[0 if (edge == low) == (y2 > y) else 1] = share
    a, b = span
    return {"x": x + a * (x2 - x), "y": y + a * (y2 - y), "x2": x + b * (x2 - x), "y2": y + b * (y2 - y)}


def _where(study: Study, title: str | None) -> str:
    return f", {legible(study.title(title).label)}" if title is not None else ", over titles"


def _caption(study: Study, factor: Factor, found: Sequence[_Found], title: str | None) -> str:
    judged, trend = found[0]
    titles = len([t for t in judged.trends if t.factor == trend.factor and t.title is not None])
    others = [legible(f.label) for f in study.factors if f.name != factor.name and len(f.levels) > 1]
    mean = f", mean over the levels of {wording.listed(others)}" if others and not trend.additive else ""
    level = f"{study.confidence * 100:g}{NO_BREAK}%"
    where = (
        f"over {wording.counted(titles, 'title')}"
        if title is None
        else f"{legible(study.title(title).label)} (1 of {titles} titles)"
    )
    behind = "; thin lines: single titles" if title is None and titles > 1 else ""
    turning = ", which does not turn where the direction is clear" if any(t.direction for _, t in found) else ""
    return sentence(
        f"{legible(factor.label)}, {where}{mean}. Marks: measured; line: the curve{turning}; band: {level}, for all levels at "
        f"once{behind}. Shaded: {margins_in_words([m for m, _ in found])}.{frames_timed(study)}"
    )


def _alt(factor: Factor, found: Sequence[_Found]) -> str:
    labels = {level.name: legible(level.label) for level in factor.levels}
    parts = []
    for judged, trend in found:
        told = "; ".join(
            f"{labels[p.level]} {difference(judged.measure, p.estimate, _error(trend))}"
            for p in trend.points
            if p.level != trend.reference
        )
        parts.append(f"{sentence(spoken(judged.measure))} against {labels[trend.reference]}: {told}")
    return f"Along {legible(factor.label)}. {'. '.join(parts)}."
