"""Charts as figures of a report: one for the page, one for the phone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from evenhand.charts.draw import svgs
from evenhand.charts.model import Chart, Form
from evenhand.charts.theme import PAGE, PHONE
from evenhand.writeup.model import Figure

#: Draws a chart for a sheet.
Drawing: TypeAlias = Callable[[Form], Chart]


def figures(draws: Sequence[Drawing]) -> tuple[Figure, ...]:
    """Draw every chart twice, all in one go."""
    if not draws:
        return ()
    wide, narrow = [draw(PAGE) for draw in draws], [draw(PHONE) for draw in draws]
    drawn = svgs([*wide, *narrow])
    return tuple(Figure(drawn[i], chart.alt, chart.caption, drawn[len(wide) + i]) for i, chart in enumerate(wide))


def figure(draw: Drawing) -> Figure:
    """The same for one chart."""
    return figures([draw])[0]
