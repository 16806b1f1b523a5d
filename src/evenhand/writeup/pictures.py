"""Every chart of a report as a picture of its own, with heading and foot, for video and article."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evenhand.charts.differences import scene_differences
from evenhand.charts.effects import all_effects, factor_effects, many_effects
from evenhand.charts.forest import title_contrasts
from evenhand.charts.levels import level_curves
from evenhand.charts.model import Chart, Form
from evenhand.charts.over import over_titles
from evenhand.charts.regrets import title_regrets
from evenhand.charts.slow import slow_frame_curve
from evenhand.charts.theme import SCREEN
from evenhand.charts.titles import title_rows
from evenhand.charts.trace import pace_traces
from evenhand.study.model import Title
from evenhand.writeup.material import Material

FEWEST_TITLES: Final = 2  # a chart over titles needs


def pictures(material: Material, form: Form = SCREEN) -> Iterator[Chart]:
    """Charts over titles first, then each title's, in the study's order."""
    study, average = material.study, material.average
    if len(material.judgement.titles) >= FEWEST_TITLES and average.over:
        yield over_titles(study, *material.leading, form=form)
        for judged in material.leading:
            yield title_contrasts(study, judged, form=form)
            if judged.effects:
                yield factor_effects(study, judged, form=form)
            if many_effects(judged):
                yield all_effects(study, judged, form=form)
        yield from _curves(material, None, form)
    if advice := material.advice:
        for key in advice.weights:
            if found := advice.regrets(key):
                yield title_regrets(study, material.judgement.measures[key], found, form=form)
    judged_titles = set(material.judgement.titles)
    for title in (t for t in study.titles if t.name in judged_titles):
        yield from _of_title(material, title, form)


def _curves(material: Material, title: str | None, form: Form) -> Iterator[Chart]:
    """Along every factor whose levels are numbers."""
    for factor in dict.fromkeys(t.factor for m in material.leading for t in m.trends if t.title == title):
        yield level_curves(material.study, factor, material.leading, title=title, form=form)


def _of_title(material: Material, title: Title, form: Form) -> Iterator[Chart]:
    study, measures = material.study, material.leading_at(title.name)
    if measures:
        yield title_rows(study, title.name, *measures[:2], form=form)
    if len(material.judgement.titles) < FEWEST_TITLES:
        yield from _curves(material, title.name, form)
    for scene in title.scenes:
        place = (title.name, scene.name)
        if material.traces.get(place):
            yield pace_traces(study, *place, material.traces[place], material.references.get(place), form=form)
        if any(a.passages for a in material.along.get(place, ())):
            yield scene_differences(study, material.along[place], form=form)
        if material.curves.get(place):
            yield slow_frame_curve(study, title.name, scene.name, material.curves[place], form=form)
