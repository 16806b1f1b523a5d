"""The signature form: one title, one row a setup in the study's order, average and low on one axis.

Filled mark = average, open mark = low; the bar through a mark is the interval of that setup's own mean over visits; the number
stands beside it. A stroke before a setup: it cannot be told from the best.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final

from evenhand import wording
from evenhand.charts.best import INDENT, LEGEND, best_in_words, legend, may_be_best, strokes
from evenhand.charts.interval import frames_timed
from evenhand.charts.lettering import SANS_BOLD_FILE, SERIF_FILE, width_of, wrapped
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.sheet import (
    Layer,
    Panel,
    Row,
    heading,
    legible,
    margin_of,
    points,
    rules,
    sentence,
    sheet,
    spoken,
    texts,
    ticks,
)
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.judging.model import Cell, MeasureJudgement
from evenhand.study.model import Study
from evenhand.units import NO_BREAK, decimals_for, number

_UNSAFE: Final = re.compile(r"[^a-z0-9_]+")


def title_rows(
    study: Study,
    title: str,
    average: MeasureJudgement,
    low: MeasureJudgement | None = None,
    *,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """Rows of dots of one title. `average` and `low` share a unit (frames a second).

    A setup without runs keeps its row, marked "no runs". Raises ValueError where no setup has a cell.
    """
    shown = [m for m in (low, average) if m is not None]
    cells = {(m.measure.key, c.setup): c for m in shown for c in m.cells if c.title == title}
    if not cells:
        raise ValueError(f"no cell of {title!r}")
    label = _label(study, title)
    caption = _caption(study, shown, list(cells.values()))
    top, above, below = heading(form, theme, label, study.question, caption)
    plan = _Plan(study, form, theme, above, below, shown, cells, may_be_best(shown[-1], title))
    layers = [*top, *plan.ground(), *plan.heads(), *plan.marks()]
    return Chart(
        name=name_of("title", title),
        spec=sheet(form, plan.bottom + 2.1 * form.text, theme, layers),
        alt=_alt(study, label, shown, cells) + best_in_words(study, shown[-1], title),
        width=form.width,
        height=form.height or math.ceil(plan.bottom + 2.1 * form.text),
        caption=caption,
    )


class _Plan:
    """Where everything of one chart stands."""

    def __init__(
        self,
        study: Study,
        form: Form,
        theme: Theme,
        above: float,
        below: float,
        shown: Sequence[MeasureJudgement],
        cells: dict[tuple[str, str], Cell],
        best: frozenset[str],
    ) -> None:
        t = form.text
        self.best, self.indent = best, INDENT * t if best else 0.0
        self.study, self.form, self.theme, self.cells, self.shown = study, form, theme, cells, shown
        self.order = [s.name for s in study.setups]
        edge = margin_of(form)
        widest = max(width_of(legible(s.label), t) for s in study.setups)
        self.labels = 0.0 if form.stacked else min(widest + 1.5 * t, 0.3 * (form.width - 2 * edge)) + self.indent
        self.top = above + (2.2 + (LEGEND if best else 0.0)) * t
        room = (form.height - below - 2.1 * t - self.top) / len(self.order) if form.height else math.inf
        self.step = min((4.1 if form.stacked else 3.0) * t, room)
        if form.height:
            self.step = min(room, 4.6 * t)
        self.bottom = self.top + self.step * len(self.order)
        self.left, self.right = edge, form.width - edge
        self.panel = Panel(edge + self.labels, self.top, self.right, self.bottom, x=self._domain(edge))

    def _domain(self, edge: float) -> tuple[float, float]:
        """Values of both ends of the axis: every interval and the number beside it fit; an interval wider than the spread of
        the values is cut at the axis' end.
        """
        values = [c.value for c in self.cells.values()]
        least, most = min(values), max(values)
        reach = max(most - least, 0.1 * abs(most), 1e-9)
        lows = [max(c.interval_low, c.value - reach) for c in self.cells.values()]
        highs = [min(c.interval_high, c.value + reach) for c in self.cells.values()]
        least, most = min(lows), max(highs)
        width = self.right - edge - self.labels
        number_room = 1.2 * self.form.text + max(width_of(_value(c), self.form.text, SANS_BOLD_FILE) for c in self.cells.values())
        self.ends = least, most
        span = (most - least) * width / max(width - 2 * number_room, 0.2 * width)
        spare = (span - (most - least)) / 2
        return least - spare, most + spare

    def middle(self, setup: str) -> float:
        """Height of a setup's marks."""
        share = 0.66 if self.form.stacked else 0.5
        return self.top + self.step * (self.order.index(setup) + share)

    def ground(self) -> list[Layer]:
        """Ruled rows, the axis, setup labels."""
        t, theme, panel = self.form.text, self.theme, self.panel
        low, high = panel.x or (0.0, 1.0)
        unit = self.shown[-1].measure.unit
        at_ticks = ticks(low, high, 4 if self.form.stacked else 6)
        edge_of_unit = self.right - width_of(unit, 0.9 * t) - 0.8 * t
        places = max(0, -math.floor(math.log10(at_ticks[1] - at_ticks[0]))) if len(at_ticks) > 1 else 0
        under = self.bottom + 1.1 * t
        room = (self.labels or self.right - self.left) - self.indent
        names = [(s, wrapped(legible(s.label), t, room)) for s in self.study.setups]
        rows, best = [], []
        for s, parts in names:
            y = self.top + self.step * (self.order.index(s.name) + 0.24) if self.form.stacked else self.middle(s.name)
            parts = (" ".join(parts),) if self.form.stacked else parts
            at = [y + 1.1 * t * (i - (len(parts) - 1) / 2) for i in range(len(parts))]
            rows += [{"t": p, "px": self.left + self.indent, "py": middle} for p, middle in zip(parts, at, strict=True)]
            best += [(self.left, y)] if s.name in self.best else []
        bare = [s for s in self.order if not any(k[1] == s for k in self.cells)]
        grid = [{"px": panel.to_px(v), "px2": panel.to_px(v), "py": self.top, "py2": self.bottom + 0.3 * t} for v in at_ticks]
        ruled = [self.top + self.step * i for i in range(1, len(self.order) + 1)]
        return [
            rules(panel, [*grid, *({"px": self.left, "px2": self.right, "py": y, "py2": y} for y in ruled)], theme.rule, t / 16),
            texts(
                panel,
                theme,
                [{"t": number(v, places), "px": panel.to_px(v), "py": under} for v in at_ticks if panel.to_px(v) < edge_of_unit],
                0.9 * t,
                align="center",
                colour=theme.soft,
            ),
            texts(panel, theme, [{"t": unit, "px": self.right, "py": under}], 0.9 * t, align="right", colour=theme.soft),
            texts(panel, theme, rows, t),
            strokes(panel, theme, best, t),
            texts(
                panel, theme, [{"t": "no runs", "px": panel.left + t, "py": self.middle(s)} for s in bare], t, colour=theme.soft
            ),
        ]

    def heads(self) -> list[Layer]:
        """Over the rows: which mark is which measure, near where its marks stand."""
        t, theme = self.form.text, self.theme
        wide = [width_of(spoken(m.measure), t, SERIF_FILE) + 1.6 * t for m in self.shown]
        places = []
        for m, w in zip(self.shown, wide, strict=True):
            own = [self.panel.to_px(c.value) for (key, _), c in self.cells.items() if key == m.measure.key]
            centre = sum(own) / len(own) if own else self.left
            places.append(min(max(centre - w / 2, self.left), self.right - w))
        if len(places) == 2 and places[0] + wide[0] + t > places[1]:
            places[1] = min(max(places[1], self.left + wide[0] + t), self.right - wide[1])
            places[0] = places[1] - wide[0] - t
        y = self.top - 1.0 * t
        marks = [
            {
                "px": x + 0.45 * t,
                "py": y,
                "shape": "circle",
                "fill": theme.ink if m is self.shown[-1] else theme.paper,
                "c": theme.ink,
            }
            for m, x in zip(self.shown, places, strict=True)
        ]
        words = [{"t": spoken(m.measure), "px": x + 1.25 * t, "py": y} for m, x in zip(self.shown, places, strict=True)]
        told = legend(self.panel, theme, self.shown[-1], self.left, y - LEGEND * t, t) if self.best else []
        return [
            *told,
            points(self.panel, marks, 0.62 * t, t / 10),
            texts(self.panel, theme, words, t, italic=True, serif=True, colour=theme.soft),
        ]

    def marks(self) -> list[Layer]:
        """Intervals, marks and numbers."""
        t, panel, theme = self.form.text, self.panel, self.theme
        bars, dots, cuts = [], [], []
        numbers: dict[bool, list[Row]] = {False: [], True: []}
        for (key, setup), cell in self.cells.items():
            filled = key == self.shown[-1].measure.key
            colour, shape = look_of(theme, setup, self.order)
            start, end = self._seen(cell)
            y = self.middle(setup)
            if start < end:
                bars.append({"x": start, "x2": end, "py": y, "c": colour})
                beyond = (("left", start, cell.interval_low < start), ("right", end, cell.interval_high > end))
                cuts += [
                    {"x": x, "py": y, "shape": f"triangle-{way}", "fill": colour, "c": colour} for way, x, cut in beyond if cut
                ]
            dots.append({"x": cell.value, "py": y, "shape": shape, "fill": colour if filled else theme.paper, "c": colour})
            at = panel.to_px(cell.value)
            left, right = min(panel.to_px(start) - 0.75 * t, at - 1.2 * t), max(panel.to_px(end) + 0.75 * t, at + 1.2 * t)
            numbers[filled].append({"t": _value(cell), "px": right if filled else left, "py": y})
        return [
            rules(panel, bars, None, t / 5.5, cap="round"),
            points(panel, cuts, 0.45 * t, 0.5),
            points(panel, dots, 0.95 * t, t / 7.5),
            texts(panel, theme, numbers[True], t, weight=600),
            texts(panel, theme, numbers[False], t, weight=600, align="right"),
        ]

    def _seen(self, cell: Cell) -> tuple[float, float]:
        """The part of a cell's interval that the axis shows; nothing where it has no end."""
        least, most = self.ends
        if not (math.isfinite(cell.interval_low) and math.isfinite(cell.interval_high)):
            return cell.value, cell.value
        return max(cell.interval_low, least), min(cell.interval_high, most)


def _value(cell: Cell) -> str:
    """The value with the decimals its interval bears."""
    half = (cell.interval_high - cell.interval_low) / 4
    places = decimals_for(half) if math.isfinite(half) and half > 0 else 0
    return number(cell.value, min(places, 1))


def _label(study: Study, title: str) -> str:
    return next((t.label for t in study.titles if t.name == title), title)


def name_of(kind: str, *words: str) -> str:
    """A file name stem from text of any kind; unlike texts that look alike after cleaning get unlike stems."""
    text = "-".join((kind, *words))
    clean = _UNSAFE.sub("-", text.lower()).strip("-")[:60]
    same = clean == text.lower()
    return clean if same else f"{clean}-{sum((i + 1) * ord(c) for i, c in enumerate(text)) % 0xFFFF:04x}"


def margins_in_words(shown: Sequence[MeasureJudgement]) -> str:
    """`margin 3 % for average, 5 % for 1 % low (percentile)`."""
    parts = []
    for m in shown:
        by_ratio = m.measure.scale.value == "logarithm"
        size = f"{math.expm1(m.margin) * 100:.3g}{NO_BREAK}%" if by_ratio else f"{m.margin:.3g} {m.measure.unit}"
        parts.append(f"{size} for {spoken(m.measure)}")
    return f"margin {wording.listed(parts)}" if parts else ""


def _caption(study: Study, shown: Sequence[MeasureJudgement], cells: Sequence[Cell]) -> str:
    names = wording.listed([f"{spoken(m.measure)} ({'open' if m is not shown[-1] else 'filled'} marks)" for m in reversed(shown)])
    level = f"{study.confidence * 100:g}{NO_BREAK}%"
    return sentence(
        f"{names}, in {shown[-1].measure.unit}; bars: {level} interval of each setup's own mean over "
        f"{spread([c.visits for c in cells], 'visit')} and {spread(_runs(cells), 'run')}; "
        f"{margins_in_words(list(reversed(shown)))}.{frames_timed(study)}"
    )


def _runs(cells: Sequence[Cell]) -> list[int]:
    """Runs under each setup. A low of short scenes puts a visit's runs together, so its cells count visits."""
    most: dict[str, int] = {}
    for cell in cells:
        most[cell.setup] = max(most.get(cell.setup, 0), cell.runs)
    return list(most.values())


def spread(counts: Sequence[int], noun: str) -> str:
    """`4 visits` or `3 to 4 visits`."""
    least, most = min(counts), max(counts)
    return wording.counted(least, noun) if least == most else f"{least} to {wording.counted(most, noun)}"


def _alt(study: Study, label: str, shown: Sequence[MeasureJudgement], cells: dict[tuple[str, str], Cell]) -> str:
    rows = []
    for s in study.setups:
        own = [(m.measure, cells[(m.measure.key, s.name)]) for m in reversed(shown) if (m.measure.key, s.name) in cells]
        words = "; ".join(f"{spoken(m)} {_value(c)}" for m, c in own) or "no runs"
        rows.append(f"{legible(s.label)}: {words}")
    return f"{legible(label)}, {shown[-1].measure.unit}, by setup. {'. '.join(rows)}."
