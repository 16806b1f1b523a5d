"""A section per title: rows of dots, verdicts in words, pace traces lined up, slow-frame curves, what the factors do."""

from __future__ import annotations

from typing import Final

from evenhand import wording
from evenhand.charts.effects import effect_name
from evenhand.charts.slow import slow_frame_curve
from evenhand.charts.titles import title_rows
from evenhand.charts.trace import pace_traces
from evenhand.judging.model import Bearing, Comparison, Effect, MeasureJudgement, Verdict
from evenhand.study.model import Scene, Title
from evenhand.writeup import sentences
from evenhand.writeup.answer import at_titles, best_lines, labels
from evenhand.writeup.definitions_words import differing
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.along import along_drawings, along_section
from evenhand.writeup.sections.disagree import other_ways
from evenhand.writeup.sections.drawing import Drawing, figures
from evenhand.writeup.sections.levels import curve_lines, curves_over
from evenhand.writeup.sections.naming import measure_name, title_anchor

#: More effects of factors together than this are told only where they are clear.
MOST_JOINT: Final = 3


def titles(material: Material) -> tuple[Section, ...]:
    """One section for every judged title, in the study's order."""
    judged = set(material.judgement.titles)
    return tuple(_title(material, t) for t in material.study.titles if t.name in judged)


def _title(material: Material, title: Title) -> Section:
    traced = [s for s in title.scenes if material.traces.get((title.name, s.name))]
    curved = [s for s in title.scenes if material.curves.get((title.name, s.name))]
    rows = _rows(material, title.name)
    drawn = figures(
        [
            *rows,
            *(_trace(material, title, s) for s in traced),
            *(_curve(material, title, s) for s in curved),
            *along_drawings(material, title),
        ]
    )
    first, last, end = len(rows), len(rows) + len(traced), len(rows) + len(traced) + len(curved)
    anchor = title_anchor(title.name)
    parts = [
        Section(f"{anchor}-pace", "The pace over the scene, runs lined up", figures=drawn[first:last]) if traced else None,
        along_section(material, title, drawn[end:]),
        Section(f"{anchor}-slow", "How slow the slowest frames are", figures=drawn[last:end]) if curved else None,
    ]
    return Section(
        anchor=anchor,
        label=title.label,
        heading=_heading(material, title),
        lead="; ".join(_scene(s) for s in title.scenes),
        figures=drawn[:first],
        tables=(_table(material, title.name),),
        parts=(*_alone(material, title.name), *(p for p in parts if p is not None)),
        aside=_cards(material, title.name),
    )


def _alone(material: Material, title: str) -> tuple[Section, ...]:
    """What stands over titles where there are several: the curves along factors of numbers."""
    return curves_over(material, title) if len(material.judgement.titles) == 1 else ()


def _rows(material: Material, title: str) -> list[Drawing]:
    """The rows of dots, where there is anything to draw."""
    measures = material.leading_at(title)
    if not measures:
        return []
    average, low = measures[0], measures[1] if len(measures) > 1 else None
    return [lambda form: title_rows(material.study, title, average, low, form=form)]


def _trace(material: Material, title: Title, scene: Scene) -> Drawing:
    place = title.name, scene.name
    return lambda form: pace_traces(material.study, *place, material.traces[place], material.references.get(place), form=form)


def _curve(material: Material, title: Title, scene: Scene) -> Drawing:
    return lambda form: slow_frame_curve(
        material.study, title.name, scene.name, material.curves[title.name, scene.name], form=form
    )


def _heading(material: Material, title: Title) -> str:
    measures = material.leading_at(title.name)
    found = [c for c in at_titles(material, measures[0]) if c.title == title.name] if measures else []
    if not found:
        return f"{title.label}: no setup could be compared"
    return f"{title.label}: {sentences.headline(found, labels(material), material.setup_label(material.study.baseline))}"


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
    measures = material.leading_at(title) or material.leading
    rows = []
    for s in material.study.setups:
        words = []
        for m in measures:
            own = [c for c in at_titles(material, m, s.name) if c.title == title]
            words.append(
                "baseline" if s.name == base else _verdict(own[0], m) + material.stale(s.name, title) if own else "no runs"
            )
        rows.append((s.label, *words, _basis(measures[0], title, s.name)))
    heads = [f"{measure_name(m.measure)} against the baseline" for m in measures]
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


def _cards(material: Material, title: str) -> tuple[tuple[str, str], ...]:
    best = best_lines(material, title)
    cards = [("Which may be the best", "\n".join(best))] if best else []
    effects = [e for e in material.average.effects if e.title == title]
    if effects:
        cards.append(("Why", "\n".join((*_why(material, effects), *curve_lines(material, title)))))
    cards.append(("Does it depend on the way it is done?", "\n".join(_depends(material, title))))
    doubts = dict.fromkeys(d for c in at_titles(material, material.average) if c.title == title for d in c.doubts)
    caution = "Setups that reach a cap cannot be told apart: “level” may be the cap's doing."
    held = [f"{said} {caution}" for said in material.held(title)]
    if held or doubts:
        cards.append(("To be taken with care", "\n".join((*held, *doubts))))
    return tuple(cards)


def _why(material: Material, effects: list[Effect]) -> list[str]:
    """What each factor does, then what factors do together; of many such effects only those that are clear."""
    alone, joint = [e for e in effects if len(e.factors) == 1], [e for e in effects if len(e.factors) > 1]
    told = joint if len(joint) <= MOST_JOINT else [e for e in joint if e.verdict in sentences.AHEAD | sentences.BEHIND]
    lines = [sentences.effect(e, effect_name(material.study, e), material.average.measure) for e in (*alone, *told)]
    for pair in (e for e in told if len(e.factors) == 2):
        said = sentences.together([e for e in alone if e.factors[0] in pair.factors], pair)
        lines.append(said if len(told) == 1 else f"{effect_name(material.study, pair)}: {said[:1].lower()}{said[1:]}")
    if len(told) < len(joint):
        rest = "are level or open" if len(joint) - len(told) > 1 else "is level or open"
        lines.append(f"{wording.counted(len(joint) - len(told), 'other effect')} of factors together {rest}.")
    return lines


def _depends(material: Material, title: str) -> tuple[str, ...]:
    """Other ways of doing it that change a verdict of this title against the baseline; a section of its own lists them all."""
    lines = []
    for way, found in other_ways(material).items():
        own = [d for d in found if d.title == title]
        if len(own) == 1:
            d = own[0]
            lines.append(
                f"{way}: {labels(material)[d.setup]}, {_measure(material, d.measure)}: {sentences.disagreement(d.shown, d.other)}"
            )
        elif own:
            opened = sum(d.other is Verdict.OPEN for d in own)
            lines.append(f"{way}: {len(own)} verdicts change, {opened or 'none'} of them to open")
    hang = [c for f in material.definitions for c in f.of(Bearing.DEPENDS) if c.title == title]
    lines += [f"Definition of the low: {differing(material, c).partition(', ')[2]}" for c in hang]
    return tuple(lines) or ("None of the other ways tried changes a verdict against the baseline.",)


def _measure(material: Material, key: str) -> str:
    found = material.measure(key)
    return measure_name(found) if found else key
