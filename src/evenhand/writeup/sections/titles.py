"""A section per title: rows of dots, verdicts in words, pace traces lined up, slow-frame curves, what the factors do."""

from __future__ import annotations

from evenhand import wording
from evenhand.charts.effects import effect_name
from evenhand.charts.slow import slow_frame_curve
from evenhand.charts.titles import title_rows
from evenhand.charts.trace import pace_traces
from evenhand.judging.model import Comparison, Effect, MeasureJudgement
from evenhand.study.model import Scene, Title
from evenhand.writeup import sentences
from evenhand.writeup.answer import at_titles, labels
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Figure, Section, Table
from evenhand.writeup.sections.drawing import figure
from evenhand.writeup.sections.naming import measure_name, title_anchor


def titles(material: Material) -> tuple[Section, ...]:
    """One section for every judged title, in the study's order."""
    judged = set(material.judgement.titles)
    return tuple(_title(material, t) for t in material.study.titles if t.name in judged)


def _title(material: Material, title: Title) -> Section:
    study, leading = material.study, material.leading
    measures = [m for m in leading if any(c.title == title.name for c in m.cells)]
    charts: tuple[Figure, ...] = ()
    if measures:
        average, low = measures[0], measures[1] if len(measures) > 1 else None
        charts = (figure(lambda form: title_rows(study, title.name, average, low, form=form)),)
    return Section(
        anchor=title_anchor(title.name),
        label=title.label,
        heading=_heading(material, title),
        lead="; ".join(_scene(s) for s in title.scenes),
        figures=charts,
        tables=(_table(material, title.name),),
        parts=(*_traces(material, title), *_curves(material, title)),
        aside=_cards(material, title.name),
    )


def _heading(material: Material, title: Title) -> str:
    found = [c for c in at_titles(material, material.average) if c.title == title.name]
    if not found:
        return f"{title.label}: no setup could be compared"
    text = sentences.headline(found, labels(material), material.setup_label(material.study.baseline))
    return (
        f"{title.label}: {text[:1].lower()}{text[1:]}"
        if text.startswith(("All", "Against", "One", "Nothing"))
        else f"{title.label}: {text}"
    )


def _scene(scene: Scene) -> str:
    parts = [scene.label]
    if scene.seconds:
        parts.append(f"{scene.seconds:g} s")
    parts.append("fixed set of frames" if scene.pace.value == "frames" else "fixed by the clock")
    if scene.cap:
        parts.append(f"capped at {scene.cap:g}")
    return ", ".join([*parts, *([scene.settings] if scene.settings else []), *scene.marks])


def _table(material: Material, title: str) -> Table:
    base = material.study.baseline
    order = [s.name for s in material.study.setups]
    rows = []
    for s in material.study.setups:
        words = []
        for m in material.leading:
            own = [c for c in at_titles(material, m, s.name) if c.title == title]
            words.append("baseline" if s.name == base else _verdict(own[0], m) if own else "no runs")
        rows.append((s.label, *words, _basis(material.average, title, s.name)))
    heads = [f"{measure_name(m.measure)} against the baseline" for m in material.leading]
    return Table(
        head=("setup", *heads, "rests on"),
        rows=tuple(rows),
        columns=(Column.NAME, *(Column.VERDICT for _ in heads), Column.WORDS),
        looks=tuple(range(len(order))),
    )


def _verdict(found: Comparison, judged: MeasureJudgement) -> str:
    return sentences.phrase(found, judged.measure)


def _basis(judged: MeasureJudgement, title: str, setup: str) -> str:
    cell = next((c for c in judged.cells if (c.title, c.setup) == (title, setup)), None)
    if cell is None:
        return "no runs"
    return f"{wording.counted(cell.visits, 'visit')}, {wording.counted(cell.runs, 'run')}"


def _traces(material: Material, title: Title) -> tuple[Section, ...]:
    drawn = [(s, material.traces[(title.name, s.name)]) for s in title.scenes if material.traces.get((title.name, s.name))]
    if not drawn:
        return ()
    figures = tuple(
        figure(lambda form, s=s, own=own: pace_traces(material.study, title.name, s.name, own, form=form))  # type: ignore[misc]
        for s, own in drawn
    )
    return (Section(f"{title_anchor(title.name)}-pace", "Where in the scene they differ", figures=figures),)


def _curves(material: Material, title: Title) -> tuple[Section, ...]:
    drawn = [(s, material.curves[(title.name, s.name)]) for s in title.scenes if material.curves.get((title.name, s.name))]
    if not drawn:
        return ()
    figures = tuple(
        figure(lambda form, s=s, own=own: slow_frame_curve(material.study, title.name, s.name, own, form=form))  # type: ignore[misc]
        for s, own in drawn
    )
    return (Section(f"{title_anchor(title.name)}-slow", "How slow the slowest frames are", figures=figures),)


def _cards(material: Material, title: str) -> tuple[tuple[str, str], ...]:
    cards = []
    effects = [e for e in material.average.effects if e.title == title]
    if effects:
        cards.append(("Why", "\n".join(_why(material, effects))))
    cards.append(("Does it depend on the way it is done?", "\n".join(_depends(material, title))))
    doubts = dict.fromkeys(d for c in at_titles(material, material.average) if c.title == title for d in c.doubts)
    if doubts:
        cards.append(("To be taken with care", "\n".join(doubts)))
    return tuple(cards)


def _why(material: Material, effects: list[Effect]) -> list[str]:
    average = material.average
    lines = [sentences.effect(e, effect_name(material.study, e), average.measure) for e in effects]
    for joint in effects:
        if len(joint.factors) == 2:
            main = [e for e in effects if len(e.factors) == 1 and e.factors[0] in joint.factors]
            lines.append(sentences.together(main, joint))
    return lines


def _depends(material: Material, title: str) -> tuple[str, ...]:
    """Other ways of doing it that change a verdict of this title."""
    everything = (*material.judgement.disagreements, *material.disagreements)
    own = [d for d in everything if d.title == title and d.against == material.study.baseline]
    if not own:
        return ("none of the other ways tried changes a verdict against the baseline",)
    names = labels(material)
    return tuple(
        dict.fromkeys(
            f"{d.way}: {names.get(d.setup, d.setup)}, {_measure(material, d.measure)}: {sentences.disagreement(d.shown, d.other)}"
            for d in own
        )
    )


def _measure(material: Material, key: str) -> str:
    found = material.measure(key)
    return measure_name(found) if found else key
