"""Pace traces lined up: how fast a scene went over its length, one small panel a setup, all on one scale.

The line is the rate of all runs together; the pale drop under it reaches down to the slowest single frame of any run in that bin,
so averaging and thinning out lose no spike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.lettering import shortened, width_of
from evenhand.charts.model import Chart, Floats, Form, PaceTrace, Theme
from evenhand.charts.sheet import Layer, Panel, Row, heading, legible, lines, margin_of, points, rules, sheet, texts, ticks
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import name_of
from evenhand.frames.model import Frames
from evenhand.study.model import Pace, Study
from evenhand.units import number


def pace_trace(setup: str, runs: Sequence[Frames], pace: str, length: float = 0.0, bins: int = 300) -> PaceTrace:
    """Line up the counted frames of the runs of one setup.

    runs : counted frames, already cut to the scene's stretch. pace : "clock" (bins of equal time) or "frames" (bins of equal
    frame count). length : of the stretch, in seconds or frames; 0 = the longest run. A frame belongs to the bin in which it ends.
    rate of a bin = frames in it over their time, all runs together, so bins without a frame take the rate of the frame that
    spans them.
    """
    if not runs:
        raise ValueError("no run to line up")
    by_frames = pace == Pace.FRAMES
    whole = length or max(float(len(r)) if by_frames else r.seconds for r in runs)
    bins = max(1, min(bins, min(len(r) for r in runs)))
    counts, times, slowest = np.zeros(bins), np.zeros(bins), np.zeros(bins)
    for run in runs:
        ends = np.arange(len(run)) + 0.5 if by_frames else run.ends_s - run.ms / 2e3
        place = np.minimum((ends / whole * bins).astype(np.int64), bins - 1)
        counts += np.bincount(place, minlength=bins)
        times += np.bincount(place, run.ms, bins)
        np.maximum.at(slowest, place, run.ms)
    filled = counts > 0
    middle = (np.arange(bins) + 0.5) * whole / bins
    longest = np.where(filled, slowest, np.nan)
    rate = np.divide(1000.0 * counts, times, out=np.full(bins, np.nan), where=filled)
    return PaceTrace(setup, middle, _bridged(rate), _bridged(1000.0 / longest), "frames" if by_frames else "seconds", len(runs))


def thinned(trace: PaceTrace, bins: int) -> PaceTrace:
    """The same trace in fewer bins: neighbouring bins joined, the slowest frame of each kept."""
    n = trace.at.size
    if n <= bins:
        return trace
    starts = np.unique((np.arange(bins) * n) // bins)
    sizes = np.diff(np.append(starts, n))
    time = np.add.reduceat(1.0 / trace.rate, starts)
    return PaceTrace(
        trace.setup,
        np.add.reduceat(trace.at, starts) / sizes,
        sizes / time,
        np.minimum.reduceat(trace.slowest, starts),
        trace.unit,
        trace.runs,
    )


def pace_traces(
    study: Study,
    title: str,
    scene: str,
    traces: Sequence[PaceTrace],
    reference: PaceTrace | None = None,
    *,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """Small multiples in the study's order. reference : one run, drawn behind each of them, of a scene that a person plays.

    Raises ValueError without a trace.
    """
    order = [s.name for s in study.setups]
    own = sorted((t for t in traces if t.setup in order), key=lambda t: order.index(t.setup))
    if not own:
        raise ValueError("no trace to draw")
    words = _words(study, title, scene, own, reference)
    head, above, below = heading(form, theme, f"{words[0]}: the pace over the scene", study.question, words[1])
    plan = _Plan(study, own, form, above, below, reference)
    layers = [*head, *plan.ground(theme), *(layer for i in range(len(own)) for layer in plan.lines(i, theme)), *plan.heads(theme)]
    height = form.height or math.ceil(plan.height)
    return Chart(name_of("pace", title, scene), sheet(form, height, theme, layers), words[2], form.width, height, words[1])


class _Plan:
    """Where the panels stand; one layer for all their grids, one for all their labels, so that drawing stays quick."""

    def __init__(
        self,
        study: Study,
        traces: Sequence[PaceTrace],
        form: Form,
        above: float,
        below: float,
        reference: PaceTrace | None = None,
    ) -> None:
        t, edge = form.text, margin_of(form)
        axis, between, under = 2.6 * t, 1.2 * t, 3.6 * t
        self.study, self.traces, self.t, self.reference = study, traces, t, reference
        self.columns = 1 if form.stacked else _columns(len(traces))
        lanes = -(-len(traces) // self.columns)
        width = (form.width - 2 * edge - axis - (self.columns - 1) * between) / self.columns
        each = (form.height - above - below) / lanes - under if form.height else (4.6 if form.stacked else 6) * t
        self.span = _span(traces)
        self.bins = max(60, int(width / (1.6 if form.titled else 2.6 if form.stacked else 1.7)))
        self.boxes = []
        for i, trace in enumerate(traces):
            left = edge + axis + (i % self.columns) * (width + between)
            top = above + (i // self.columns) * (each + under) + 1.7 * t
            self.boxes.append(Panel(left, top, left + width, top + each, x=_length(trace), y=self.span))
        self.height = above + below + lanes * (each + under)

    def ground(self, theme: Theme) -> list[Layer]:
        """Grids and axes of all panels."""
        t, grid, across, beside = self.t, [], [], []
        for i, (box, trace) in enumerate(zip(self.boxes, self.traces, strict=True)):
            for value in ticks(*self.span, 4):
                y = box.bottom - value / self.span[1] * (box.bottom - box.top)
                grid.append({"px": box.left, "px2": box.right, "py": y, "py2": y})
                if i % self.columns == 0:
                    beside.append({"t": number(value), "px": box.left - 0.4 * t, "py": y})
            across += _across(box, trace, t)
        whole = self.boxes[0]
        return [
            rules(whole, grid, theme.rule, t / 18),
            texts(whole, theme, across, 0.8 * t, align="center", colour=theme.soft),
            texts(whole, theme, beside, 0.8 * t, align="right", colour=theme.soft),
        ]

    def lines(self, i: int, theme: Theme) -> list[Layer]:
        """The pace of one setup."""
        box, trace = self.boxes[i], thinned(self.traces[i], self.bins)
        colour, _ = look_of(theme, trace.setup, [s.name for s in self.study.setups])
        behind = [lines(box, _pace(thinned(self.reference, self.bins)), theme.soft, self.t / 14)] if self.reference else []
        return [
            *behind,
            rules(box, _drops(trace, 0.02 * self.span[1]), colour, max(self.t / 14, 1.0), opacity=0.4),
            lines(box, _pace(trace), colour, self.t / 11),
        ]

    def heads(self, theme: Theme) -> list[Layer]:
        """Mark and label over each panel."""
        t, marks, words = self.t, [], []
        for box, trace in zip(self.boxes, self.traces, strict=True):
            colour, mark = look_of(theme, trace.setup, [s.name for s in self.study.setups])
            at = {"px": box.left + 0.4 * t, "py": box.top - 0.8 * t}
            label = shortened(legible(self.study.setup(trace.setup).label), 0.95 * t, box.right - box.left - 1.3 * t)
            marks.append({**at, "shape": mark, "fill": colour, "c": colour})
            words.append({"t": label, "px": box.left + 1.2 * t, "py": box.top - 0.8 * t})
        return [points(self.boxes[0], marks, 0.62 * t, t / 10), texts(self.boxes[0], theme, words, 0.95 * t)]


def _pace(trace: PaceTrace) -> list[Row]:
    return [{"x": _few(x), "y": _few(y), "i": k} for k, (x, y) in enumerate(zip(trace.at, trace.rate, strict=True))]


def _across(box: Panel, trace: PaceTrace, t: float) -> list[Row]:
    """Numbers under one panel; the last is moved left where it would stand out of it."""
    at = ticks(0.0, (box.x or (0.0, 1.0))[1], 4)
    unit = " s" if trace.unit == "seconds" else ""
    words = [f"{number(v)}{unit if v == at[-1] else ''}" for v in at]
    places = [min(box.to_px(v), box.right - width_of(w, 0.8 * t) / 2) for v, w in zip(at, words, strict=True)]
    return [{"t": w, "px": x, "py": box.bottom + 0.9 * t} for w, x in zip(words, places, strict=True)]


def _drops(trace: PaceTrace, least: float) -> list[Row]:
    """From the pace down to the slowest frame of each bin where that is more than `least` below it."""
    return [
        {"x": _few(x), "y": _few(y), "y2": _few(d)}
        for x, y, d in zip(trace.at, trace.rate, trace.slowest, strict=True)
        if y - d > least
    ]


def _columns(count: int) -> int:
    return count if count <= 4 else math.ceil(count / math.ceil(count / 4))


def _length(trace: PaceTrace) -> tuple[float, float]:
    step = float(trace.at[1] - trace.at[0]) if trace.at.size > 1 else float(trace.at[0] * 2)
    return 0.0, float(trace.at[-1]) + step / 2


def _span(traces: Sequence[PaceTrace]) -> tuple[float, float]:
    """From zero to a little above the fastest bin that is not a lone peak; the same for all panels."""
    top = max(float(np.quantile(t.rate, 0.995)) for t in traces)
    return 0.0, top * 1.1


def _few(value: float) -> float:
    """Enough digits for a pixel: four."""
    return float(f"{value:.4g}")


def _bridged(values: Floats) -> Floats:
    """NaN filled from the next bin that has a value, else from the last one."""
    known = np.flatnonzero(~np.isnan(values))
    at = np.minimum(np.searchsorted(known, np.arange(values.size)), known.size - 1)
    return np.asarray(values[known[at]], dtype=np.float64)


def _words(study: Study, title: str, scene: str, own: Sequence[PaceTrace], reference: PaceTrace | None) -> tuple[str, str, str]:
    label = next((t.label for t in study.titles if t.name == title), title)
    scenes = {s.name: s.label for t in study.titles if t.name == title for s in t.scenes}
    place = scenes.get(scene, scene)
    name = label if place == label else f"{label}, {place}"
    runs = sorted({t.runs for t in own})
    count = wording.counted(runs[0], "run") if len(runs) == 1 else f"{runs[0]} to {wording.counted(runs[-1], 'run')}"
    caption = (
        f"Frames per second over the {own[0].unit} of the scene, {count} a setup lined up. "
        f"Line: all runs together; pale drops: the slowest single frame of any run."
        f"{_behind(study, reference)}{frames_timed(study)}"
    )
    told = ". ".join(
        f"{legible(study.setup(t.setup).label)}: {number(float(np.median(t.rate)))} in the middle, slowest frame at "
        f"{number(float(t.slowest.min()))}"
        for t in own
    )
    return legible(name), caption, f"Pace over the scene, {legible(name)}, frames per second. {told}."


def _behind(study: Study, reference: PaceTrace | None) -> str:
    """What the grey line is."""
    return f" Grey: the reference, the first run kept, under {legible(study.setup(reference.setup).label)}." if reference else ""
