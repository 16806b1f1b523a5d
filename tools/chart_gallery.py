"""The reference page of charts, and its pictures.

python tools/chart_gallery.py        draw the pictures of docs/reference/charts/ anew

The page is checked for being up to date; the pictures are not, since their last digits may hang on the machine's arithmetic.
"""

from __future__ import annotations

from typing import Final

import house

from evenhand.charts.catalogue import CHARTS
from evenhand.charts.draw import picture_svg
from evenhand.charts.theme import BENCH_BOOK, PAGE

PICTURES: Final = house.ROOT / "docs" / "reference" / "charts"

HEAD: Final = """\
Every chart is a function from nouns to one declarative specification (Vega-Lite 6, plain data); the same specification \
serves the report's page, its phone layout, SVG and PNG of any exact size. The pictures here show an invented study; each is \
drawn by its row of the catalogue, `src/evenhand/charts/catalogue.py`.

What all of them keep to:

- The study's order, never an order by result. A setup keeps its colour and its mark from chart to chart; colour is never \
the only cue.
- Filled marks are the average, open marks the low. The number stands beside the mark.
- The caption, which stands in the picture itself where the picture stands alone, says measure, number of visits and runs, \
margin and what the bars mean. The alternative text says the numbers.
- An interval that reaches beyond the axis ends in an arrow. An interval without an end is not drawn.
- Text from outside (titles, labels, questions) stands in data only, never in an expression; control characters and \
direction marks are shown as ·.

`charts.draw.svg(chart)` gives the markup for a page, `charts.draw.picture_svg(chart, width, height)` and \
`charts.draw.png(chart, width, height)` a picture of exactly that size. The sheets are in `charts/theme.py`: `PAGE` (920 \
pixels wide, as high as needed), `PHONE` (344), `SCREEN` (1920 × 1080, with heading and foot). The two looks are \
`BENCH_BOOK` and `BENCH_NIGHT`."""

FOOT: Final = """\
## Looks

Fonts: Source Serif 4 for words, IBM Plex Sans Condensed for labels and figures, both under the SIL Open Font License 1.1, \
shipped in `src/evenhand/charts/fonts/` with their licences. A letter that the font lacks (East Asian, for instance) makes \
the drawing library set that whole text in a font of the machine.

Setup colours follow Okabe, M. and Ito, K. (2008), *Color universal design*, darkened until each reaches a contrast of 3:1 \
on paper, sheet and margin band; text reaches 4.5:1 (W3C, Web Content Accessibility Guidelines 2.2, 1.4.3 and 1.4.11). \
Tested in `tests/charts/test_theme.py`. There are eight colours and eight marks; a ninth setup begins again.

## Limits

- The axis of rows of dots does not begin at nought: dots are read by place, not by length.
- Pace traces join bins: the line is frames over time of each bin, all runs together; the pale drops reach to the slowest \
single frame, so spikes survive, fast single frames do not.
- Forty titles by three setups fit one picture of 1080 lines at 15 pixels a line; more need pages of their own."""


def page_parts() -> list[str]:
    """The text of docs/reference/charts.md, below its title."""
    shown = (
        f"## {row.label[0].upper()}{row.label[1:]}\n\n{row.help}\n\n![{row.label}](charts/{row.key}.svg)"
        for row in CHARTS.values()
    )
    return [HEAD, *shown, FOOT]


def draw() -> None:
    """Draw every picture."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    for row in CHARTS.values():
        chart = row.example(PAGE, BENCH_BOOK)
        text = picture_svg(chart, chart.width, chart.height) + "\n"
        (PICTURES / f"{row.key}.svg").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    draw()
