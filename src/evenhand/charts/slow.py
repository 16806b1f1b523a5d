"""The slow-frame curve: how long the slowest 10 %, 1 % and 0.1 % of frames take, one line a setup.

Any percentile low is one point of this curve, so the choice of a definition hides nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from evenhand import wording
from evenhand.charts.interval import frames_timed
from evenhand.charts.lettering import width_of
from evenhand.charts.model import Chart, Form, SlowCurve, Theme
from evenhand.charts.sheet import Layer, Panel, Row, heading, legible, lines, log_ticks, margin_of, points, rules, sheet, texts
from evenhand.charts.theme import BENCH_BOOK, PAGE, look_of
from evenhand.charts.titles import name_of
from evenhand.frames.model import Frames
from evenhand.study.model import Study
from evenhand.units import NO_BREAK, number, rate_of_ms


def slow_curve(setup: str, runs: Sequence[Frames], points_kept: int = 90) -> SlowCurve:
    """Frame time that each share of frames reach or exceed, all runs of a setup together.

    The k slowest of n frames are the share k / n; kept at `points_kept` shares evenly spaced on a logarithmic axis, the slowest
    frame always among them.
    """
    ms = np.sort(np.concatenate([r.ms for r in runs]))[::-1]
    ranks = np.unique(np.round(np.geomspace(1, ms.size, points_kept)).astype(np.int64))
    return SlowCurve(setup, ranks / ms.size, ms[ranks - 1], len(runs))


def slow_frame_curve(
    study: Study,
    title: str,
    scene: str,
    curves: Sequence[SlowCurve],
    *,
    form: Form = PAGE,
    theme: Theme = BENCH_BOOK,
) -> Chart:
    """Frame time against the share of frames that are slower, both logarithmic, rare frames at the right."""
    order = [s.name for s in study.setups]
    own = sorted((c for c in curves if c.setup in order), key=lambda c: order.index(c.setup))
    if not own:
        raise ValueError("no curve to draw")
    name, caption, alt = _words(study, title, scene, own)
    head, above, below = heading(form, theme, f"{name}: how slow the slowest frames are", study.question, caption)
    t, edge = form.text, margin_of(form)
    side = 0.0 if form.stacked else max(width_of(legible(study.setup(c.setup).label), t) for c in own) + 2.6 * t
    side = min(side, 0.3 * form.width)
    legend = (1.5 * t * len(own) + 0.4 * t) if form.stacked else 0.0
    top = above + legend + 1.6 * t
    bottom = (form.height - below - 2.4 * t) if form.height else top + (11 if form.stacked else 14) * t
    right = form.width - edge - side
    least = max(min(float(c.share[0]) for c in own), 1e-5)
    slowest = max(float(c.ms[c.share >= least].max()) for c in own)
    quickest = min(float(c.ms.min()) for c in own)
    box = Panel(edge + 2.4 * t, top, right, bottom, (1.0, least), (0.95 * quickest, 1.05 * slowest), log_x=True, log_y=True)
    layers = [*head, *_axes(box, form, theme), *_curves(study, own, box, form, theme, above)]
    height = bottom + below + 2.4 * t
    return Chart(
        name_of("slow", title, scene),
        sheet(form, height, theme, layers),
        alt,
        form.width,
        form.height or math.ceil(height),
        caption,
    )


def _axes(box: Panel, form: Form, theme: Theme) -> list[Layer]:
    t = form.text
    low, high = box.y or (0.0, 1.0)
    up = [(v, box.to_py(v)) for v in log_ticks(low, high)]
    least = (box.x or (1.0, 1e-4))[1]
    across = [s for s in (1.0, 0.1, 0.01, 0.001, 0.0001, 0.00001) if s >= least * 0.999]
    under = box.bottom + 1.0 * t
    numbers = [_share_label(s, box, t) for s in across]
    grid = [
        *({"px": box.left, "px2": box.right, "py": y, "py2": y} for _, y in up),
        *({"px": box.to_px(s), "px2": box.to_px(s), "py": box.top, "py2": box.bottom} for s in across),
    ]
    right = [
        *({"t": f"{v:g}", "px": box.left - 0.5 * t, "py": y} for v, y in up),
        {"t": "share of frames", "px": box.right, "py": under + 1.1 * t},
    ]
    return [
        rules(box, grid, theme.rule, t / 18),
        texts(box, theme, right, 0.85 * t, align="right", colour=theme.soft),
        texts(box, theme, [{"t": w, "px": x, "py": under} for w, x in numbers], 0.85 * t, align="center", colour=theme.soft),
        texts(
            box, theme, [{"t": "frame time, ms", "px": box.left - 2.2 * t, "py": box.top - 0.9 * t}], 0.85 * t, colour=theme.soft
        ),
    ]


def _share_label(share: float, box: Panel, t: float) -> tuple[str, float]:
    """Words and place of a number of the axis; the last one does not stand out of the sheet."""
    words = f"{share * 100:g}{NO_BREAK}%"
    return words, min(box.to_px(share), box.right + 0.5 * t - width_of(words, 0.85 * t) / 2)


def _curves(study: Study, own: Sequence[SlowCurve], box: Panel, form: Form, theme: Theme, above: float) -> list[Layer]:
    """Lines, and labels at their right ends moved apart (above the chart on a narrow sheet)."""
    t, order = form.text, [s.name for s in study.setups]
    least = (box.x or (1.0, 1e-4))[1]
    looks = [look_of(theme, c.setup, order) for c in own]
    drawn = [[(float(s), float(m)) for s, m in zip(c.share, c.ms, strict=True) if s >= least] for c in own]
    ends = [box.to_py(line[0][1]) for line in drawn]
    if form.stacked:
        places = [(margin_of(form) + 0.5 * t, above + 1.5 * t * i + 0.8 * t) for i in range(len(own))]
    else:
        places = [(box.right + 0.9 * t, y) for y in _apart(ends, 1.25 * t, box)]
    marks = [{"px": x, "py": y, "shape": mark, "fill": c, "c": c} for (x, y), (c, mark) in zip(places, looks, strict=True)]
    words = [
        {"t": legible(study.setup(c.setup).label), "px": x + 0.9 * t, "py": y} for c, (x, y) in zip(own, places, strict=True)
    ]
    return [
        *(lines(box, _rows(line), colour, t / 9) for line, (colour, _) in zip(drawn, looks, strict=True)),
        points(box, marks, 0.7 * t, t / 10),
        texts(box, theme, words, 0.95 * t),
    ]


def _rows(line: Sequence[tuple[float, float]]) -> list[Row]:
    """Corners of a curve, common frames first."""
    return [{"x": float(f"{s:.4g}"), "y": float(f"{m:.4g}"), "i": -i} for i, (s, m) in enumerate(line)]


def _apart(wanted: Sequence[float], gap: float, box: Panel) -> list[float]:
    """Heights as near to `wanted` as `gap` pixels between neighbours allow, inside the panel where there is room."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    found = list(wanted)
    for before, i in pairwise(order):
        found[i] = max(found[i], found[before] + gap)
    ceiling = box.bottom
    for i in reversed(order):
        found[i] = min(found[i], ceiling)
        ceiling = found[i] - gap
    return found


def _words(study: Study, title: str, scene: str, own: Sequence[SlowCurve]) -> tuple[str, str, str]:
    label = next((t.label for t in study.titles if t.name == title), title)
    scenes = {s.name: s.label for t in study.titles if t.name == title for s in t.scenes}
    place = scenes.get(scene, scene)
    name = legible(label if place == label else f"{label}, {place}")
    runs = sorted({c.runs for c in own})
    count = wording.counted(runs[0], "run") if len(runs) == 1 else f"{runs[0]} to {wording.counted(runs[-1], 'run')}"
    caption = (
        f"The slowest frames: at 1{NO_BREAK}% one frame in a hundred takes at least this long. {count} a setup, put together."
        f"{frames_timed(study)}"
    )
    told = []
    for c in own:
        at = float(np.interp(0.01, c.share, c.ms))
        told.append(f"{legible(study.setup(c.setup).label)}: {at:.1f} ms ({number(rate_of_ms(at))} frames per second)")
    return name, caption, f"Slow-frame curve, {name}. Frame time that 1 % of frames reach. {'. '.join(told)}."
