"""Where in a scene setups differ: the difference in pace along it with its band, one small panel a setup, all on one scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.intervals import margin_band
from evenhand.charts.lettering import shortened, width_of
from evenhand.charts.model import Chart, Floats, Form, Theme
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
    sheet,
    texts,
    ticks,
)
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import name_of, spread
from evenhand.judging.model import Along
from evenhand.measures.catalogue import CATALOGUE
from evenhand.study.model import Study
from evenhand.units import NO_BREAK, number, percent_of_log

#: How far beyond the farthest mean difference the axis reaches, as a share of what is shown of the margin and the differences.
REACH: Final = 0.8


def scene_differences(study: Study, along: Sequence[Along], *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """Small multiples in the study's order, of one scene. Raises ValueError where there is none."""
    order = [s.name for s in study.setups]
    own = sorted((a for a in along if a.setup in order), key=lambda a: order.index(a.setup))
    if not own:
        raise ValueError("no difference to draw")
    name, caption, alt = _words(study, own)
    head, above, below = heading(form, theme, f"{name}: where in the scene setups differ", study.question, caption)
    plan = _Plan(study, own, form, theme, above, below)
    layers = [*head, *(layer for i in range(len(own)) for layer in plan.panel(i))]
    height = form.height or math.ceil(plan.height)
    return Chart(
        name_of("along", own[0].title, own[0].scene), sheet(form, plan.height, theme, layers), alt, form.width, height, caption
    )


class _Plan:
    """Where the panels stand."""

    def __init__(self, study: Study, along: Sequence[Along], form: Form, theme: Theme, above: float, below: float) -> None:
        t, edge = form.text, margin_of(form)
        axis, between, under = 3.0 * t, 1.2 * t, 3.6 * t
        self.study, self.along, self.theme, self.t = study, along, theme, t
        self.columns = 1 if form.stacked else min(len(along), 3)
        lanes = -(-len(along) // self.columns)
        width = (form.width - 2 * edge - axis - (self.columns - 1) * between) / self.columns
        each = (form.height - above - below) / lanes - under if form.height else (6 if form.stacked else 7.5) * t
        span = _span(along)
        self.boxes = []
        for i, one in enumerate(along):
            left = edge + axis + (i % self.columns) * (width + between)
            top = above + (i // self.columns) * (each + under) + 1.7 * t
            self.boxes.append(Panel(left, top, left + width, top + each, x=(one.edges[0], one.edges[-1]), y=span))
        self.height = above + below + lanes * (each + under)

    def panel(self, i: int) -> list[Layer]:
        """One setup against the baseline."""
        box, one = self.boxes[i], self.along[i]
        colour, mark = look_of(self.theme, one.setup, [s.name for s in self.study.setups])
        return [*self._ground(box, one, i), *self._band(box, one, colour), *self._head(box, one, colour, mark)]

    def _ground(self, box: Panel, one: Along, i: int) -> list[Layer]:
        t, theme = self.t, self.theme
        low, high = box.y or (0.0, 1.0)
        margin = margin_band(CATALOGUE["average"], one.margin)
        at = ticks(low, high, 5)
        places = max(0, -math.floor(math.log10(at[1] - at[0]) + 1e-9)) if len(at) > 1 else 0
        beside = [{"t": number(v, places, sign=True), "px": box.left - 0.4 * t, "y": v} for v in at]
        shade = {"px": box.left, "px2": box.right, "y": max(margin[0], low), "y2": min(margin[1], high)}
        return [
            bands(box, [shade], theme.band),
            rules(box, [{"px": box.left, "px2": box.right, "y": v, "y2": v} for v in at], theme.rule, t / 18),
            rules(box, [{"px": box.left, "px2": box.right, "y": 0.0, "y2": 0.0}], theme.soft, t / 16),
            texts(box, theme, _across(box, one, t), 0.8 * t, align="center", colour=theme.soft),
            texts(box, theme, beside if i % self.columns == 0 else [], 0.8 * t, align="right", colour=theme.soft),
        ]

    def _band(self, box: Panel, one: Along, colour: str) -> list[Layer]:
        """The band pale, darker where the setup is clearly ahead or behind; the difference a line through the bins' middles."""
        span = box.y or (0.0, 1.0)
        inside = [_rows(one, span, one.edges.index(p.begin), one.edges.index(p.end)) for p in one.passages]
        middle = [{"x": x, "y": y, "i": k} for k, (x, y) in enumerate(zip(*_middles(one, span), strict=True)) if math.isfinite(y)]
        return [
            areas(box, _rows(one, span, 0, len(one.estimate)), colour, 0.18),
            *(areas(box, rows, colour, 0.38) for rows in inside),
            lines(box, middle, colour, self.t / 10),
        ]

    def _head(self, box: Panel, one: Along, colour: str, mark: str) -> list[Layer]:
        t, theme = self.t, self.theme
        at = {"px": box.left + 0.4 * t, "py": box.top - 0.8 * t}
        label = shortened(legible(self.study.setup(one.setup).label), 0.95 * t, box.right - box.left - 1.3 * t)
        return [
            points(box, [{**at, "shape": mark, "fill": colour, "c": colour}], 0.62 * t, t / 10),
            texts(box, theme, [{"t": label, "px": box.left + 1.2 * t, "py": box.top - 0.8 * t}], 0.95 * t),
        ]


def _across(box: Panel, one: Along, t: float) -> list[Row]:
    """Numbers under one panel; the last is moved left where it would stand out of it."""
    at = ticks(0.0, one.edges[-1], 4)
    unit = " s" if one.unit == "seconds" else ""
    words = [f"{number(v)}{unit if v == at[-1] else ''}" for v in at]
    places = [min(box.to_px(v), box.right - width_of(w, 0.8 * t) / 2) for v, w in zip(at, words, strict=True)]
    return [{"t": w, "px": x, "py": box.bottom + 0.9 * t} for w, x in zip(words, places, strict=True)]


def _rows(one: Along, span: tuple[float, float], first: int, last: int) -> list[Row]:
    """The band of bins first..last-1 as steps, cut off at the ends of the axis; bins without a band are passed over. Steps are a
    hair less than upright, since an area needs its places in order.
    """
    rows: list[Row] = []
    hair = 1e-4 * (one.edges[1] - one.edges[0])
    for k in range(first, last):
        if math.isfinite(one.low[k]) and math.isfinite(one.high[k]):
            low, high = (min(max(percent_of_log(end), span[0]), span[1]) for end in (one.low[k], one.high[k]))
            rows += [{"x": x, "y": low, "y2": high} for x in (one.edges[k] + hair, one.edges[k + 1] - hair)]
    return rows


def _middles(one: Along, span: tuple[float, float]) -> tuple[Floats, Floats]:
    edges, found = np.array(one.edges), np.array([percent_of_log(e) for e in one.estimate])
    return (edges[1:] + edges[:-1]) / 2, np.clip(found, *span)


def _span(along: Sequence[Along]) -> tuple[float, float]:
    """All differences and the margin, and of the bands as much as does not make them small; the same for all panels."""
    found = [percent_of_log(e) for a in along for e in a.estimate if math.isfinite(e)]
    margin = margin_band(CATALOGUE["average"], along[0].margin)
    low, high = min([*found, margin[0]]), max([*found, margin[1]])
    reach = REACH * (high - low)
    ends = [percent_of_log(e) for a in along for e in (*a.low, *a.high) if math.isfinite(e)]
    return max(min([*ends, low]), low - reach), min(max([*ends, high]), high + reach)


def _words(study: Study, own: Sequence[Along]) -> tuple[str, str, str]:
    """(name of the scene, caption, alternative text)."""
    first = own[0]
    label = next((t.label for t in study.titles if t.name == first.title), first.title)
    scenes = {s.name: s.label for t in study.titles if t.name == first.title for s in t.scenes}
    place = scenes.get(first.scene, first.scene)
    name = legible(label if place == label else f"{label}, {place}")
    base = legible(study.setup(first.against).label)
    margin = f"{percent_of_log(first.margin):.3g}{NO_BREAK}%"
    visits = spread([v for a in own for v in a.visits], "visit")
    sure = f"{first.confidence * 100:g}{NO_BREAK}%"
    caption = (
        f"Frame rate in % against {base} over the {first.unit} of the scene, {len(first.estimate)} bins, runs lined up, mean of "
        f"{visits} a setup. Band: {sure}, for the whole scene and all setups at once; darker where it is clear of 0. "
        f"Shaded: margin {margin} for average.{frames_timed(study)}"
    )
    told = ". ".join(f"{legible(study.setup(a.setup).label)}: {_places(a)}" for a in own)
    return name, caption, f"Difference along the scene, {name}, against {base}. {told}."


def _places(one: Along) -> str:
    if not one.passages:
        return "nowhere clearly different"
    count = wording.counted(len(one.passages), "place")
    seen = [percent_of_log(p.estimate) for p in one.passages]
    least, most = (number(v, 1, (0.0,), sign=True) for v in (min(seen), max(seen)))
    return f"clearly different in {count}, by {least if least == most else f'{least} to {most}'}{NO_BREAK}%"
