"""The nouns of drawing: a theme, a form (the sheet a chart is drawn for) and a chart.

A chart is a function from nouns to a `Chart` (a declarative Vega-Lite specification as plain data); the theme is an argument,
never a global. `charts.draw` turns a Chart into SVG or PNG bytes of an exact size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours, fonts, and marks. `setup_colours`, `setup_marks` are cycled in the study's order.

    band : ground of a margin band. alarm : colour of a flag.
    """

    name: str
    paper: str
    sheet: str
    ink: str
    soft: str
    rule: str
    margin_line: str
    setup_colours: tuple[str, ...]
    setup_marks: tuple[str, ...]
    serif: str
    sans: str
    band: str = "#ece3cd"
    alarm: str = "#c65a11"


@dataclass(frozen=True, slots=True)
class Form:
    """The sheet a chart is drawn for.

    width : pixels. height : pixels, None = as high as the content needs. text : pixels of ordinary text.
    titled : whether heading and foot are part of the picture (they stand beside it in the page). stacked : labels above
    their row rather than beside it, panels below each other.
    """

    name: str
    width: int
    height: int | None
    text: float
    titled: bool
    stacked: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """spec : Vega-Lite, plain data. alt : what the chart shows, in words. name : file name stem.

    caption : measure, number of visits and runs, margin and what the bars mean, in one or two sentences.
    """

    name: str
    spec: Mapping[str, Any]
    alt: str
    width: int
    height: int
    caption: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class PaceTrace:
    """How fast a scene went, under one setup, over its length; bins of equal width, all arrays of shape (bins,).

    at : middle of each bin, in `unit` ("seconds" for scenes fixed by the clock, "frames" for scenes fixed by frames).
    rate : frames per second over the bin, all runs together. slowest : rate of the slowest single frame of any run in the bin,
    so no spike is lost to averaging.
    """

    setup: str
    at: Floats
    rate: Floats
    slowest: Floats
    unit: str
    runs: int


@dataclass(frozen=True, slots=True, eq=False)
class SlowCurve:
    """Frame time against the share of frames that are slower, under one setup, all runs together.

    share : fractions in (0, 1], rising; shape (k,). ms : the frame time that this share of frames reach or exceed; shape (k,).
    """

    setup: str
    share: Floats
    ms: Floats
    runs: int
