"""From a report to one HTML file that needs nothing else: no script, no network, fonts and charts inside.

The template has no logic beyond loops; everything it prints is escaped, except what the program drew or wrote itself: the charts
(whose texts Vega escaped), the style sheet, the marks of the setups.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from evenhand.charts.model import Theme
from evenhand.charts.theme import BENCH_BOOK, BENCH_NIGHT, FONT_FOLDER, MARKS
from evenhand.units import NO_BREAK
from evenhand.writeup.model import Column, Report, Section, Table

_PER_CENT: Final = re.compile(r"(?<=\d) %")

TEMPLATES: Final = Path(__file__).parent / "templates"

#: Unicode ranges of the two font files of each face (those of the fonts' own packages).
LATIN: Final = (
    "U+0000-00FF,U+0131,U+0152-0153,U+02BB-02BC,U+02C6,U+02DA,U+02DC,U+2000-206F,U+20AC,U+2122,U+2191,U+2193,U+2212,U+2215"
)
LATIN_EXT: Final = "U+0100-0130,U+0132-0151,U+0154-02BA,U+02BD-02C5,U+02C7-02CC,U+1E00-1E9F,U+1EF2-1EFF,U+2C60-2C7F,U+A720-A7FF"
FACES: Final = (
    ("Source Serif 4", "source-serif-4", 400, "normal"),
    ("Source Serif 4", "source-serif-4", 400, "italic"),
    ("Source Serif 4", "source-serif-4", 600, "normal"),
    ("IBM Plex Sans Condensed", "ibm-plex-sans-condensed", 400, "normal"),
    ("IBM Plex Sans Condensed", "ibm-plex-sans-condensed", 600, "normal"),
)

#: Outlines of the setups' marks in a box of 12 by 12.
OUTLINES: Final[Mapping[str, str]] = {
    "circle": "M6 1.6a4.4 4.4 0 1 0 .01 0Z",
    "square": "M2 2h8v8H2Z",
    "triangle-up": "M6 1.4 11 10.2H1Z",
    "diamond": "M6 .8 11.2 6 6 11.2.8 6Z",
    "triangle-down": "M6 10.6 1 1.8h10Z",
    "cross": "M4.4 1.2h3.2v3.2h3.2v3.2H7.6v3.2H4.4V7.6H1.2V4.4h3.2Z",
    "triangle-right": "M10.6 6 1.8 11V1Z",
    "triangle-left": "M1.4 6 10.2 1v10Z",
}


def render(report: Report, theme: Theme = BENCH_BOOK) -> str:
    """The report as one HTML document, readable without a script and without a network."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES, encoding="utf-8"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    section_template = environment.get_template("section.html.j2")

    def draw_section(section: Section) -> Markup:
        return Markup(section_template.render(section=section, markup=Markup, kind=_kind, looks=len(MARKS)))

    page = environment.get_template("page.html.j2")
    text = page.render(report=report, draw_section=draw_section, style=Markup(style()), marks=Markup(_marks(theme)))
    return _PER_CENT.sub(f"{NO_BREAK}%", text)  # also in what people wrote into their studies


@cache
def style() -> str:
    """The style sheet, with fonts and with the night colours of the charts."""
    css = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    css = css.replace("@LOOKS@", _look_rules(BENCH_BOOK)).replace("@NIGHT@", f"{_look_rules(BENCH_NIGHT)}\n{night_rules()}")
    return f"{fonts()}\n{css}"


def _look_rules(theme: Theme) -> str:
    """The colour of each setup's mark in tables."""
    return "\n".join(f".look-{i}{{color:{colour}}}" for i, colour in enumerate(theme.setup_colours))


def night_rules() -> str:
    """Rules that give every colour of a chart its counterpart by night. Charts keep their colours as attributes, which any rule
    of a style sheet overrides.
    """
    pairs = dict(zip(_colours(BENCH_BOOK), _colours(BENCH_NIGHT), strict=True))
    return "\n".join(
        f'svg [{attribute}="{day}"]{{{attribute}:{night}}}' for day, night in pairs.items() for attribute in ("fill", "stroke")
    )


def _colours(theme: Theme) -> tuple[str, ...]:
    return (theme.paper, theme.ink, theme.soft, theme.rule, theme.margin_line, theme.band, *theme.setup_colours, theme.alarm)


def fonts() -> str:
    """The faces that pages are set in, as rules with their fonts inside."""
    rules = []
    for family, stem, weight, posture in FACES:
        for subset, spread in (("latin", LATIN), ("latin-ext", LATIN_EXT)):
            data = base64.b64encode((FONT_FOLDER / f"{stem}-{subset}-{weight}-{posture}.woff2").read_bytes()).decode("ascii")
            rules.append(
                f'@font-face{{font-family:"{family}";font-style:{posture};font-weight:{weight};font-display:swap;'
                f"src:url(data:font/woff2;base64,{data}) format('woff2');unicode-range:{spread}}}"
            )
    return "\n".join(rules)


def _marks(theme: Theme) -> str:
    """Each setup's mark once, to be used by tables."""
    symbols = "".join(
        f'<symbol id="mark-{i}" viewBox="0 0 12 12"><path d="{OUTLINES[shape]}"/></symbol>'
        for i, shape in enumerate(theme.setup_marks)
    )
    return f'<svg class="defs" aria-hidden="true">{symbols}</svg>'


def _kind(table: Table, column: int) -> str:
    """Class of a column's cells."""
    if table.columns:
        return table.columns[column].value
    return Column.FIGURE.value if table.numeric and table.numeric[column] else Column.WORDS.value
