"""Colours that can be told from their ground.

Source: W3C, Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast ratio; 1.4.3 asks 4.5:1
of text, 1.4.11 asks 3:1 of graphical objects.
"""

from __future__ import annotations

import re

import pytest
import vl_convert
from tests.charts.pictures import pixels

from evenhand.charts.lettering import (
    SANS_BOLD_FILE,
    SANS_FILE,
    SERIF_BOLD_FILE,
    SERIF_FILE,
    lacking,
    shortened,
    width_of,
    wrapped,
)
from evenhand.charts.model import Theme
from evenhand.charts.theme import BENCH_BOOK, BENCH_NIGHT, FONT_FOLDER, look_of
from evenhand.writeup.page import TEMPLATES, night_rules


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    """Black on white is 21:1 (WCAG 2.2, contrast ratio: "ratios can range from 1 to 21")."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == 1


@pytest.mark.parametrize("theme", [BENCH_BOOK, BENCH_NIGHT], ids=lambda t: t.name)
def test_text_and_marks_stand_out(theme: Theme) -> None:
    for ground in (theme.paper, theme.sheet, theme.band):
        assert contrast(theme.ink, ground) >= 7
        assert contrast(theme.soft, ground) >= 4.5
        for colour in (*theme.setup_colours, theme.alarm):
            assert contrast(colour, ground) >= 3, (colour, ground)


def test_page_colours_by_day_and_by_night() -> None:
    css = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root\{(.*?)\}", css, re.DOTALL)
    day, night = (dict(re.findall(r"--(\w+):(#\w{6})", block)) for block in blocks)
    for colours in (day, night):
        for text in ("ink", "soft", "link", "alarm"):
            assert contrast(colours[text], colours["paper"]) >= 4.5, text
            assert contrast(colours[text], colours["sheet"]) >= 4.5, text
    assert day["paper"] == BENCH_BOOK.paper
    assert night["paper"] == BENCH_NIGHT.paper


def test_every_colour_of_a_chart_has_a_rule_for_the_night() -> None:
    rules = night_rules()
    for colour in (
        BENCH_BOOK.paper,
        BENCH_BOOK.ink,
        BENCH_BOOK.soft,
        BENCH_BOOK.rule,
        BENCH_BOOK.band,
        *BENCH_BOOK.setup_colours,
    ):
        assert f'[fill="{colour}"]' in rules
        assert f'[stroke="{colour}"]' in rules


def test_every_setup_has_its_own_colour_and_mark() -> None:
    order = [f"s{i}" for i in range(8)]
    assert len({look_of(BENCH_BOOK, s, order)[0] for s in order}) == 8
    assert len({look_of(BENCH_BOOK, s, order)[1] for s in order}) == 8


def test_fonts_come_with_their_licence_and_stay_small() -> None:
    files = list(FONT_FOLDER.iterdir())
    assert sum(f.stat().st_size for f in files) < 2_500_000
    for family in ("source-serif-4", "ibm-plex-sans-condensed"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in (FONT_FOLDER / f"OFL-{family}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("file", [SANS_FILE, SANS_BOLD_FILE])
def test_figures_are_as_wide_as_each_other(file: str) -> None:
    """Tabular figures: a column of numbers stands."""
    assert len({width_of(d, 100, file) for d in "0123456789"}) == 1


@pytest.mark.parametrize("file", [SANS_FILE, SANS_BOLD_FILE, SERIF_FILE, SERIF_BOLD_FILE])
def test_fonts_hold_every_sign_we_print(file: str) -> None:
    """One sign that is missing makes the drawing library set the whole text in another font."""
    known = "".join(map(chr, range(0x20, 0x7F))) + "−±×…–—·äöüßéñÅøłžő“”’\u00a0"
    assert lacking(known, file) == set()
    assert lacking("漢●", file) == {"漢", "●"}


@pytest.mark.parametrize(
    ("file", "family", "weight"), [(SANS_FILE, "IBM Plex Sans Condensed", 400), (SERIF_BOLD_FILE, "Source Serif 4", 600)]
)
def test_widths_are_those_of_the_drawing(file: str, family: str, weight: int) -> None:
    """Against what the drawing library sets: the ink ends where the advance widths say, but for kerning."""
    vl_convert.register_font_directory(str(FONT_FOLDER))
    words = "Harbour Lights 65 W"
    drawn = vl_convert.svg_to_png(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="420" height="50"><text y="36" font-size="36" font-weight="{weight}" '
        f"font-family=\"'{family}'\">{words}</text></svg>"
    )
    inked = pixels(drawn)[..., 3].max(axis=0) > 60
    assert int(inked.nonzero()[0].max()) == pytest.approx(width_of(words, 36, file), rel=0.02)


def test_shortening_and_wrapping_keep_within_the_room() -> None:
    long = "6400 MT/s, 65 W, small cores off, second threads off"
    assert width_of(shortened(long, 16, 120), 16) <= 120
    lines = wrapped(long, 16, 150, 2)
    assert len(lines) == 2
    assert all(width_of(line, 16) <= 150 for line in lines)
    assert lines[1].endswith("…")
    assert wrapped("short", 16, 150) == ("short",)
    assert width_of("漢", 16) == 16
