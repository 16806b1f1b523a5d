"""The catalogue of charts: what each shows, and an example that can be drawn. Reference page, gallery and tests read it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from evenhand.charts import example
from evenhand.charts.differences import scene_differences
from evenhand.charts.effects import factor_effects
from evenhand.charts.forest import title_contrasts
from evenhand.charts.levels import level_curves
from evenhand.charts.model import Chart, Form, Theme
from evenhand.charts.over import over_titles
from evenhand.charts.regrets import title_regrets
from evenhand.charts.runs import run_marks
from evenhand.charts.slow import slow_frame_curve
from evenhand.charts.titles import title_rows
from evenhand.charts.trace import pace_traces


@dataclass(frozen=True, slots=True)
class ChartKind:
    """One row: `example` draws it from the invented study of `charts.example`."""

    key: str
    label: str
    help: str
    example: Callable[[Form, Theme], Chart]


_STUDY: Final = example.STUDY
_AVERAGE: Final = example.judged("average", 1.0, 0.011)
_LOW: Final = example.judged("low1_percentile", 0.66, 0.022)
_TITLE: Final = "moss-ember"
_SPEEDS: Final = example.speeds()

_ROWS: Final = (
    ChartKind(
        "title-rows",
        "rows of dots",
        "One title: average and low of every setup on one axis, each with the interval of its own mean.",
        lambda form, theme: title_rows(_STUDY, _TITLE, _AVERAGE, _LOW, form=form, theme=theme),
    ),
    ChartKind(
        "over-titles",
        "over titles",
        "Every setup against the baseline over all titles: for these and, paler, for titles like these, on the margin band.",
        lambda form, theme: over_titles(_STUDY, _AVERAGE, _LOW, form=form, theme=theme),
    ),
    ChartKind(
        "title-contrasts",
        "title by title",
        "Every title under every setup against the baseline, with the mean over titles at the foot; forty titles stay legible.",
        lambda form, theme: title_contrasts(_STUDY, _AVERAGE, form=form, theme=theme),
    ),
    ChartKind(
        "regrets",
        "what titles lose",
        "Under each setup, what every title loses against its own best setup; the farthest is named.",
        lambda form, theme: title_regrets(_STUDY, _AVERAGE, example.REGRETS, form=form, theme=theme),
    ),
    ChartKind(
        "pace-traces",
        "pace over the scene",
        "How fast a scene went over its length under each setup, runs lined up; no spike is lost.",
        lambda form, theme: pace_traces(_STUDY, _TITLE, "walk", example.traces(), form=form, theme=theme),
    ),
    ChartKind(
        "scene-differences",
        "differences along the scene",
        "Where in a scene setups differ from the baseline, with a band that holds for the whole scene; darker where it is clear.",
        lambda form, theme: scene_differences(_STUDY, example.along(), form=form, theme=theme),
    ),
    ChartKind(
        "slow-frames",
        "slow-frame curve",
        "How long the slowest 10 %, 1 %, 0.1 % of frames take, one line a setup; every percentile low is a point of it.",
        lambda form, theme: slow_frame_curve(_STUDY, _TITLE, "walk", example.curves(), form=form, theme=theme),
    ),
    ChartKind(
        "factor-effects",
        "factor effects",
        "What each factor does at each title, and how far the factors need each other.",
        lambda form, theme: factor_effects(_STUDY, _AVERAGE, form=form, theme=theme),
    ),
    ChartKind(
        "level-curves",
        "along a factor's numbers",
        "What a factor brings along its numbers, with a band that holds for all levels at once; each title a thin line.",
        lambda form, theme: level_curves(_SPEEDS[0], "memory", [_SPEEDS[1]], form=form, theme=theme),
    ),
    ChartKind(
        "runs",
        "runs",
        "One mark a run, a gap between visits: kept, doubtful, set aside, to redo.",
        lambda form, theme: run_marks(_STUDY, example.runs(), form=form, theme=theme),
    ),
)

CHARTS: Final[Mapping[str, ChartKind]] = {row.key: row for row in _ROWS}
