"""Along a factor's numbers: the curve over titles, where it ends to pay, and its steps."""

from __future__ import annotations

from evenhand.charts.levels import level_curves
from evenhand.judging.model import Trend
from evenhand.units import percent
from evenhand.writeup.levels_words import curve_sentence, factor_label, step_rows
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.drawing import Drawing, figures
from evenhand.writeup.sections.naming import measure_name


def curves_over(material: Material, title: str | None = None) -> tuple[Section, ...]:
    """A section for every factor with numeric levels, over titles or at one title."""
    names = dict.fromkeys(t.factor for m in material.leading for t in m.trends if t.title == title)
    drawn = figures([_drawing(material, name, title) for name in names])
    return tuple(
        Section(
            f"levels-{name}" if title is None else f"levels-{name}-{title}",
            heading=_heading(material, name, title),
            label=factor_label(material.study, name),
            figures=(figure,),
            tables=(_table(material, name, title),),
        )
        for name, figure in zip(names, drawn, strict=True)
    )


def curve_lines(material: Material, title: str | None) -> tuple[str, ...]:
    """The same in a sentence a factor, for the leading measure."""
    average = material.average
    return tuple(f"{curve_sentence(material.study, t, average.measure)}." for t in average.trends if t.title == title)


def _drawing(material: Material, factor: str, title: str | None) -> Drawing:
    shown = [m for m in material.leading if any((t.factor, t.title) == (factor, title) for t in m.trends)]
    return lambda form: level_curves(material.study, factor, shown, title=title, form=form)


def _heading(material: Material, factor: str, title: str | None) -> str:
    average = material.average
    own: Trend | None = next((t for t in average.trends if (t.factor, t.title) == (factor, title)), None)
    if own is None:
        return f"Along {factor_label(material.study, factor)}"
    said = curve_sentence(material.study, own, average.measure)
    return f"{said[:1].upper()}{said[1:]}"


def _table(material: Material, factor: str, title: str | None) -> Table:
    rows = [
        (measure_name(m.measure), *row)
        for m in material.leading
        for t in m.trends
        if (t.factor, t.title) == (factor, title)
        for row in step_rows(material.study, t, m.measure)
    ]
    return Table(
        head=("measure", "from, to", "change", "what it amounts to"),
        rows=tuple(rows),
        columns=(Column.WORDS, Column.NAME, Column.FIGURE, Column.VERDICT),
        caption=f"In brackets: {percent(100 * material.study.confidence, 0)} interval, for all levels at once.",
    )
