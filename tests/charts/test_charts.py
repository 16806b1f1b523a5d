"""Every chart of the catalogue: valid, of the exact size, with words that can be read, and deaf to markup."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import altair
import numpy as np
import pytest
import vl_convert
from tests.charts.pictures import darkness, pixels, size_of

from evenhand.charts import example
from evenhand.charts.catalogue import CHARTS
from evenhand.charts.draw import VEGA_LITE, picture_svg, png, svg, svgs
from evenhand.charts.forest import title_contrasts
from evenhand.charts.model import Chart, Form
from evenhand.charts.regrets import title_regrets
from evenhand.charts.sheet import ticks
from evenhand.charts.theme import BENCH_BOOK, BENCH_NIGHT, PAGE, PHONE, SCREEN
from evenhand.charts.titles import name_of, title_rows
from evenhand.errors import ChartError

FORMS = (PAGE, PHONE, SCREEN)
HOSTILE = "<script>alert(1)</script>\"' onload=x ]]> &lt; =1+1 \u202eevil\u0007"


@pytest.fixture(params=CHARTS)
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.mark.parametrize("form", FORMS, ids=lambda f: f.name)
def test_specification_is_vega_lite(kind: str, form: Form) -> None:
    """Against the schema of Vega-Lite 6 as altair carries it."""
    chart = CHARTS[kind].example(form, BENCH_BOOK)
    altair.LayerChart.from_dict(dict(chart.spec), validate=True)


def test_picture_has_the_exact_size(kind: str) -> None:
    chart = CHARTS[kind].example(SCREEN, BENCH_BOOK)
    assert size_of(png(chart)) == (1920, 1080)
    assert size_of(png(chart, 801, 333)) == (801, 333)


def test_page_chart_fits_any_size() -> None:
    """A chart of another shape is put in whole, on its paper."""
    chart = CHARTS["title-rows"].example(PAGE, BENCH_BOOK)
    image = pixels(png(chart, 400, 300))
    assert image.shape[:2] == (300, 400)
    assert (image[:20, :, :3] == [0xF7, 0xF4, 0xEC]).all(), "paper above the chart"
    assert darkness(image).sum() > 50


def test_text_is_drawn(kind: str) -> None:
    """A font that is not registered draws nothing, without a word: there must be ink where the heading stands, and with another
    weight of the same font, other ink.
    """
    chart = CHARTS[kind].example(SCREEN, BENCH_BOOK)
    image = darkness(pixels(png(chart, 480, 270)))
    heading, labels = image[14:32, 18:250], image[50:230, 18:70]
    assert heading.sum() > 40
    if kind not in ("pace-traces", "slow-frames", "level-curves", "scene-differences"):
        assert labels.sum() > 20
    assert not image[:, 10:18].any(), "nothing but the margin line left of the text"


@pytest.mark.parametrize("family", ["'Source Serif 4'", "'IBM Plex Sans Condensed'"])
def test_both_families_are_registered(family: str) -> None:
    svg(CHARTS["title-rows"].example(PAGE, BENCH_BOOK))
    words = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="40">'
        '<text x="5" y="28" font-size="24" font-family="{}">Quay 0</text></svg>'
    )
    own, none = (np.asarray(pixels(vl_convert.svg_to_png(words.format(f)))) for f in (family, "sans-serif"))
    assert (own != none).any(), "the family was not found, so the general one stands in"
    assert own.any()


def test_alternative_text_and_caption_say_what_is_shown(kind: str) -> None:
    chart = CHARTS[kind].example(PAGE, BENCH_BOOK)
    if kind not in ("factor-effects", "level-curves", "runs"):
        assert all(s.label in chart.alt for s in example.STUDY.setups if s.name != "full")
    assert chart.alt.endswith(".")
    assert re.search(r"\d+ (visits?|runs?)\b|\d+ titles", chart.caption), "says of how many"
    if kind in ("title-rows", "over-titles", "title-contrasts", "factor-effects", "level-curves"):
        assert "margin 3\u00a0% for average" in chart.caption
    root = ElementTree.fromstring(svg(chart))
    assert root.get("role") == "img"
    assert root.get("aria-label") == chart.alt


def test_setup_labels_stand_in_the_chart_in_words() -> None:
    for kind in ("title-rows", "pace-traces", "slow-frames", "runs", "title-contrasts"):
        text = "".join(ElementTree.fromstring(svg(CHARTS[kind].example(PAGE, BENCH_BOOK))).itertext())
        assert "5200 · 45 W" in text, kind


@pytest.mark.parametrize("form", FORMS, ids=lambda f: f.name)
def test_hostile_labels_are_text(form: Form) -> None:
    study = replace(
        example.STUDY,
        question=HOSTILE,
        titles=tuple(replace(t, label=HOSTILE) for t in example.STUDY.titles),
        setups=tuple(replace(s, label=HOSTILE) for s in example.STUDY.setups),
    )
    chart = title_rows(study, "moss-ember", example.judged("average", 1.0, 0.01), form=form)
    for drawn in (svg(chart), picture_svg(chart)):
        root = ElementTree.fromstring(drawn)
        assert {e.tag.split("}")[-1] for e in root.iter()} <= {"svg", "g", "path", "text", "tspan", "rect", "line"}
        assert not [a for e in root.iter() for a in e.attrib if a.startswith("on")]
        assert "\u202e" not in drawn
        assert "\u0007" not in drawn
        assert "<script>alert(1)" in "".join(root.itertext()).replace(" ", "") + root.get("aria-label", "")
    altair.LayerChart.from_dict(dict(chart.spec), validate=True)


def test_names_are_safe_and_apart() -> None:
    assert name_of("title", "moss-ember") == "title-moss-ember"
    odd = {name_of("title", n) for n in ("../../x", "..\\x", "X", "x ", "é", "è", "con:")}
    assert len(odd) == 7
    assert all(re.fullmatch(r"[a-z0-9-]+", n) for n in odd)


def test_setup_keeps_its_colour_and_mark() -> None:
    """Also where the first setup has no runs at a title."""
    average = example.judged("average", 1.0, 0.01)
    fewer = replace(average, cells=tuple(c for c in average.cells if c.setup != "lean"))
    whole, gap = (title_rows(example.STUDY, "moss-ember", m) for m in (average, fewer))
    assert _looks(whole) - _looks(gap) == {("square", "#c65a11")}
    assert "no runs" in svg(gap)


def _looks(chart: Chart) -> set[tuple[str, str]]:
    return {(row["shape"], row["fill"]) for layer in chart.spec["layer"] for row in layer["data"]["values"] if "shape" in row}


def test_interval_without_ends_draws_no_bar() -> None:
    average = example.judged("average", 1.0, 0.01)
    endless = replace(average, cells=tuple(replace(c, interval_low=-np.inf, interval_high=np.inf) for c in average.cells))
    assert "inf" not in svg(title_rows(example.STUDY, "moss-ember", endless)).lower()


def test_charts_drawn_together_are_those_drawn_alone() -> None:
    charts = [k.example(PAGE, BENCH_BOOK) for k in CHARTS.values()]
    assert svgs(charts) == [svg(c) for c in charts]


@pytest.mark.parametrize("key", ["title-rows", "pace-traces", "title-contrasts"])
def test_small_markup_draws_the_same_picture(key: str) -> None:
    """Against what Vega itself draws, pixel by pixel: what was left out was not to be seen."""
    chart = CHARTS[key].example(PAGE, BENCH_BOOK)
    theirs = pixels(vl_convert.svg_to_png(vl_convert.vegalite_to_svg(dict(chart.spec), vl_version=VEGA_LITE)))
    ours = pixels(png(chart, chart.width, chart.height))
    off = np.abs(theirs[..., :3].astype(int) - ours[..., :3]).max(axis=-1) > 60
    assert off.mean() < 0.004


def test_night_has_a_counterpart_for_every_colour() -> None:
    assert len(BENCH_BOOK.setup_colours) == len(BENCH_NIGHT.setup_colours) == len(BENCH_BOOK.setup_marks)


def test_forty_titles_stay_legible() -> None:
    """41 rows on 1080 pixels: type of at least 14 pixels, rows that do not overlap (trial in design: 16 read well)."""
    average = example.judged("average", 1.0, 0.01)
    titles = [replace(example.STUDY.titles[0], name=f"t{i}", label=f"Title {i}") for i in range(40)]
    study = replace(example.STUDY, titles=tuple(titles))
    many = replace(
        average,
        comparisons=tuple(replace(c, title=t.name) for t in titles for c in average.comparisons if c.title == "night-ferry"),
    )
    chart = title_contrasts(study, many, form=SCREEN)
    rows = [
        layer for layer in chart.spec["layer"] if any(str(r.get("t", "")).startswith("Title ") for r in layer["data"]["values"])
    ]
    assert rows[0]["mark"]["fontSize"] >= 14
    heights = sorted({r["py"] for r in rows[0]["data"]["values"]})
    assert min(b - a for a, b in pairwise(heights)) >= 1.08 * rows[0]["mark"]["fontSize"]
    assert size_of(png(chart)) == (1920, 1080)


def test_undrawable_chart_says_so() -> None:
    chart = CHARTS["title-rows"].example(PAGE, BENCH_BOOK)
    broken = replace(chart, spec={**chart.spec, "layer": [{"mark": "no such mark", "data": {"values": [{}]}}]})
    with pytest.raises(ChartError) as caught:
        svg(broken)
    assert str(caught.value).startswith("the chart title-moss-ember cannot be drawn: ")
    assert str(caught.value).endswith("[chart-not-drawn]\n  -> tell the makers, with the study file")


@pytest.mark.parametrize(("low", "high", "most"), [(0, 167, 4), (-11.2, 3.9, 3), (0.98, 1.02, 5), (119.2, 119.3, 4), (3, 3, 4)])
def test_ticks_are_round_few_and_inside(low: float, high: float, most: int) -> None:
    found = ticks(low, high, most)
    assert 1 <= len(found) <= most + 1
    assert all(low - 1e-9 <= v <= high + 1e-9 for v in found)


def test_regrets_fill_the_farthest_mark_and_name_it():
    """The example's titles lose what is put in: one filled mark a setup that loses anything, named in the words beside it."""
    chart = CHARTS["regrets"].example(PAGE, BENCH_BOOK)
    drawn = "".join(ElementTree.fromstring(svg(chart)).itertext())
    for setup, own in example.REGRETS.items():
        title = max(own, key=lambda name: own[name])
        if own[title] > 0:
            assert example.STUDY.title(title).label in drawn, setup
    assert "lose no more than the margin" in chart.alt
    with pytest.raises(ValueError, match="no title has a regret"):
        title_regrets(example.STUDY, example.judged("average", 1.0, 0.01), {})
