"""Charts as figures of a report: one for the page, one for the phone."""

from __future__ import annotations

from collections.abc import Callable

from evenhand.charts.draw import svg
from evenhand.charts.model import Chart, Form
from evenhand.charts.theme import PAGE, PHONE
from evenhand.writeup.model import Figure


def figure(draw: Callable[[Form], Chart]) -> Figure:
    """Draw a chart twice. Marks of clipped parts are told apart by the chart's name and form."""
    wide, narrow = draw(PAGE), draw(PHONE)
    return Figure(svg(wide), wide.alt, wide.caption, svg(narrow))
