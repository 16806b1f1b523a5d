"""One mark a run, a gap between visits: what the study rests on, title by title and setup by setup.

Filled = kept, open = set aside, cross = to redo, triangle = kept with a doubt.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from evenhand import wording
from evenhand.charts.lettering import shortened, width_of
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.sheet import Panel, Row, heading, legible, margin_of, points, rules, sheet, texts
from evenhand.charts.theme import BENCH_BOOK, PAGE
from evenhand.screening.model import Standing
from evenhand.study.model import RunKey, Study


class RunMark(Enum):
    """How a run is drawn."""

    KEPT = "kept"
    DOUBTFUL = "kept, doubtful"
    SET_ASIDE = "set aside"
    REDO = "to redo"


SHAPES: Final[Mapping[RunMark, str]] = {
    RunMark.KEPT: "circle",
    RunMark.DOUBTFUL: "triangle-up",
    RunMark.SET_ASIDE: "circle",
    RunMark.REDO: "cross",
}


@dataclass(frozen=True, slots=True)
class MarkedRun:
    """A run and how it is drawn."""

    key: RunKey
    mark: RunMark


def mark_of(standing: Standing, doubtful: bool) -> RunMark:
    """The mark of a run's standing."""
    if standing is Standing.SET_ASIDE:
        return RunMark.SET_ASIDE
    if standing is Standing.REDO:
        return RunMark.REDO
    return RunMark.DOUBTFUL if doubtful else RunMark.KEPT


def run_marks(study: Study, runs: Sequence[MarkedRun], *, form: Form = PAGE, theme: Theme = BENCH_BOOK) -> Chart:
    """All runs of a study. Raises ValueError without one."""
    if not runs:
        raise ValueError("no run to draw")
    caption, alt = _words(study, runs)
    head, above, below = heading(form, theme, "What the study rests on", study.question, caption)
    plan = _Plan(study, runs, form, above, below)
    t, edge, size = form.text, margin_of(form), plan.size
    whole = Panel(0, 0, form.width, plan.bottom)
    layers = [
        *head,
        rules(whole, [{"px": edge, "px2": form.width - edge, "py": y, "py2": y} for y in plan.rules_at], theme.rule, t / 18),
        texts(whole, theme, plan.heads, t, colour=theme.soft),
        texts(whole, theme, plan.names, size),
        texts(whole, theme, plan.setups, size, colour=theme.soft),
        *(points(whole, plan.marks(kind, theme), 0.62 * size, size / 10) for kind in RunMark),
    ]
    height = plan.bottom + below + 0.5 * t
    return Chart("runs", sheet(form, height, theme, layers), alt, form.width, form.height or math.ceil(height), caption)


class _Plan:
    """Where rows, columns and marks stand: titles down, setups across; on a narrow sheet setups under their title."""

    def __init__(self, study: Study, runs: Sequence[MarkedRun], form: Form, above: float, below: float) -> None:
        t, edge = form.text, margin_of(form)
        labels = {x.name: legible(x.label) for x in study.titles}
        self.runs, self.stacked, self.order = runs, form.stacked, [s.name for s in study.setups]
        self.titles = [x for x in labels if any(r.key.title == x for r in runs)]
        self.per_title = len(self.order) + 1 if form.stacked else 1
        self.top = above + (0.4 if form.stacked else 1.9) * t
        room = (form.height - below - self.top - 0.5 * t) / (len(self.titles) * self.per_title) if form.height else math.inf
        self.step = min(1.75 * t, room)
        self.size = min(t, 0.8 * self.step)
        widest = max(width_of(labels[x], self.size) for x in self.titles) + 1.2 * t
        first = 0.45 * form.width if form.stacked else min(widest, 0.4 * form.width)
        self.left = edge + first
        self.column = (form.width - edge - self.left) / (1 if form.stacked else len(self.order))
        self.bottom = self.top + self.step * self.per_title * len(self.titles)
        self.seats = {key: seat for title in self.titles for s in self.order for key, seat in _seats(runs, title, s).items()}
        most = max(self.seats.values()) + 1
        self.gap = min(0.95 * self.size, (self.column - 0.6 * t) / most)
        self.rules_at = [self.top + self.step * self.per_title * i for i in range(len(self.titles) + 1)]
        self._label(study, form, edge, first)

    def _label(self, study: Study, form: Form, edge: float, first: float) -> None:
        """Names of titles and setups, shortened to their room."""
        t, labels = form.text, {x.name: legible(x.label) for x in study.titles}
        room = form.width if form.stacked else first - 0.6 * t
        places = list(zip(self.titles, self.rules_at, strict=False))
        self.names = [{"t": shortened(labels[x], self.size, room), "px": edge, "py": y + self.step / 2} for x, y in places]
        narrow = (first if form.stacked else self.column) - 1.4 * t
        setups = list(enumerate(shortened(legible(s.label), self.size, narrow) for s in study.setups))
        under = [{"t": s, "px": edge + 0.8 * t, "py": y + self.step * (k + 1.5)} for _, y in places for k, s in setups]
        above = [{"t": s, "px": self.left + self.column * k, "py": self.top - 0.9 * t} for k, s in setups]
        self.setups, self.heads = (under, []) if form.stacked else ([], above)

    def marks(self, kind: RunMark, theme: Theme) -> list[Row]:
        """All marks of one kind."""
        colour = {RunMark.KEPT: theme.setup_colours[0], RunMark.SET_ASIDE: theme.soft}.get(kind, theme.alarm)
        look = {"shape": SHAPES[kind], "fill": theme.paper if kind is RunMark.SET_ASIDE else colour, "c": colour}
        places = [self.place(r.key) for r in self.runs if r.mark is kind and r.key in self.seats]
        return [{"px": round(x, 1), "py": round(y, 1), **look} for x, y in places]

    def place(self, key: RunKey) -> tuple[float, float]:
        """Pixels of a run's mark."""
        k, row = self.order.index(key.setup), self.titles.index(key.title)
        left = self.left + (0 if self.stacked else self.column * k)
        return left + self.gap * (self.seats[key] + 0.5), self.rules_at[row] + self.step * ((k + 1.5) if self.stacked else 0.5)


def _seats(runs: Sequence[MarkedRun], title: str, setup: str) -> dict[RunKey, float]:
    """Place of each run of a cell in mark widths: runs in order, most of a mark's width left free between visits."""
    found: dict[RunKey, float] = {}
    at, visit = -1.0, None
    for key in sorted(r.key for r in runs if (r.key.title, r.key.setup) == (title, setup)):
        at += 1.0 if visit in (None, (key.scene, key.visit)) else 1.7
        visit = (key.scene, key.visit)
        found[key] = at
    return found


def _words(study: Study, runs: Sequence[MarkedRun]) -> tuple[str, str]:
    counts = {m: sum(r.mark is m for r in runs) for m in RunMark}
    told = wording.listed([f"{counts[m]} {m.value}" for m in RunMark if counts[m]])
    caption = (
        f"One mark a run, a gap between visits, under each setup. Filled: kept; triangle: kept, doubtful; open: set "
        f"aside; cross: to "
        f"redo. {wording.counted(len(runs), 'run')}: {told}."
    )
    return caption, f"Runs by title and setup. {wording.counted(len(runs), 'run')}: {told}."
