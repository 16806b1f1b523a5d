"""Looks: the bench book by day and by night, the sheets charts are drawn for, and where the fonts lie.

Setup colours are those of Okabe & Ito (2008), darkened until they reach a contrast of 3:1 and more on paper (WCAG 2.2, success
criterion 1.4.11); each setup also has its own mark, so colour is never the only cue.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from evenhand.charts.model import Form, Theme

FONT_FOLDER: Final = Path(__file__).parent / "fonts"
SERIF: Final = "'Source Serif 4', Georgia, serif"
SANS: Final = "'IBM Plex Sans Condensed', 'Arial Narrow', Arial, sans-serif"
MARKS: Final = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross", "triangle-right", "triangle-left")

BENCH_BOOK: Final = Theme(
    name="bench book",
    paper="#f7f4ec",
    sheet="#fdfbf5",
    ink="#1f2a36",
    soft="#5d6672",
    rule="#ddd5c3",
    margin_line="#c9786a",
    setup_colours=("#0072b2", "#c65a11", "#00795b", "#a6507f", "#7a6400", "#3c4a58", "#2f7d8f", "#8c4a2f"),
    setup_marks=MARKS,
    serif=SERIF,
    sans=SANS,
)

BENCH_NIGHT: Final = Theme(
    name="bench book, by night",
    paper="#1b1f24",
    sheet="#22272d",
    ink="#ece6d8",
    soft="#a8aeb5",
    rule="#3b4047",
    margin_line="#8d5449",
    setup_colours=("#56b4e9", "#f0883e", "#35c79a", "#dc8fbd", "#d8c04a", "#b9c4cf", "#7fd0df", "#d99a7a"),
    setup_marks=MARKS,
    serif=SERIF,
    sans=SANS,
    band="#343027",
    alarm="#f0883e",
)

PAGE: Final = Form("page", width=920, height=None, text=16, titled=False, stacked=False)
PHONE: Final = Form("phone", width=344, height=None, text=14, titled=False, stacked=True)
SCREEN: Final = Form("screen", width=1920, height=1080, text=30, titled=True, stacked=False)


def look_of(theme: Theme, setup: str, order: Sequence[str]) -> tuple[str, str]:
    """Colour and mark of a setup: its place in the study's order, so that both stay with it from chart to chart."""
    place = list(order).index(setup)
    return theme.setup_colours[place % len(theme.setup_colours)], theme.setup_marks[place % len(theme.setup_marks)]
