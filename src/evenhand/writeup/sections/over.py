"""Over titles: the table and chart of every setup against the baseline, and all titles at a glance."""

from __future__ import annotations

import math
from typing import Final

from evenhand import wording
from evenhand.charts.effects import all_effects, factor_effects, many_effects
from evenhand.charts.forest import title_contrasts
from evenhand.charts.over import over_titles
from evenhand.judging.model import MeasureJudgement, OverTitles, Verdict
from evenhand.measures.model import Scale
from evenhand.writeup import sentences
from evenhand.writeup.answer import at_titles, best_lines, compared_titles
from evenhand.writeup.look_words import confidence_words
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.drawing import Drawing, figure, figures
from evenhand.writeup.sections.levels import curves_over
from evenhand.writeup.sections.naming import measure_name, title_anchor

#: A prediction that spans more than this factor, from one end to the other, tells nothing.
TOO_WIDE: Final = math.log(4.0)
#: Titles from which on the share among titles like these is worth a table.
FEWEST_COUNTED: Final = 5


def over(material: Material) -> Section | None:
    """None where fewer than two titles were judged."""
    if len(material.judgement.titles) < 2 or not material.average.over:
        return None
    study, base = material.study, material.setup_label(material.study.baseline)
    leading = material.leading
    charts = [figure(lambda form: over_titles(study, *leading, form=form))]
    return Section(
        anchor="over-titles",
        label="over titles",
        heading=_heading(material),
        lead=f"Geometric mean over {wording.counted(compared_titles(material), 'title')}, one vote a title; every number is "
        f"a change against {base}.",
        figures=tuple(charts),
        tables=(_table(material, leading),),
        parts=(*_counts(material), _glance(material), *_effects(material), *curves_over(material), *_others(material)),
        aside=_cards(material),
    )


def _heading(material: Material) -> str:
    """How many setups have which verdict, measure by measure; the page's headline says which."""
    told: dict[str, list[str]] = {}
    for m in material.leading:
        told.setdefault(_verdicts(material, m), []).append(f"the {measure_name(m.measure)}")
    return f"Over titles, {'; '.join(f'{said} in {wording.listed(names)}' for said, names in told.items())}"


def _verdicts(material: Material, judged: MeasureJudgement) -> str:
    """`of 3 setups 2 are ahead beyond the margin and 1 is open`."""
    found = [o.verdict for o in judged.over if o.against == material.study.baseline]
    words = {verdict: sentences.word(verdict).partition(",")[0] for verdict in sentences.TOLD if verdict in found}
    if set(words) == {Verdict.UNTOLD}:
        return "no setup has a verdict"
    if len(words) == 1:
        (word,) = words.values()
        return f"all {len(found)} setups are {word}" if len(found) > 1 else f"the other setup is {word}"
    counts = [f"{n} {'is' if n == 1 else 'are'} {word}" for verdict, word in words.items() if (n := found.count(verdict))]
    return f"of {len(found)} setups {wording.listed(counts)}" if counts else "nothing is compared"


def _table(material: Material, measures: tuple[MeasureJudgement, ...]) -> Table:
    base = material.study.baseline
    order = [s.name for s in material.study.setups]
    rows, looks = [], []
    for setup in material.compared:
        for m in measures:
            for o in m.over:
                if (o.setup, o.against) == (setup, base):
                    verdict = sentences.phrase(o, m.measure) + material.stale(setup)
                    rows.append((material.setup_label(setup), measure_name(m.measure), *_numbers(o, m), verdict))
                    looks.append(order.index(setup))
    return Table(
        head=("setup", "measure", "change", "these titles", "titles like these", "verdict, these titles"),
        rows=tuple(rows),
        columns=(Column.NAME, Column.WORDS, Column.FIGURE, Column.FIGURE, Column.FIGURE, Column.VERDICT),
        caption=_caption(material, measures),
        looks=tuple(looks),
    )


def _caption(material: Material, measures: tuple[MeasureJudgement, ...]) -> str:
    """Against what, and which intervals stand in which column: what is level rests on another than the rest."""
    base, confidence = material.study.baseline, confidence_words(material.study.confidence)
    said = f"Against {material.setup_label(base)}; intervals of {confidence}."
    level = [o for m in measures for o in m.over if o.against == base and o.verdict is Verdict.LEVEL]
    if not level:
        return said
    inner = confidence_words(level[0].inner.confidence)
    return f"{said} In brackets after “level” and “less than matters”: the {inner} interval of the pair by itself."


def _numbers(o: OverTitles, m: MeasureJudgement) -> tuple[str, str, str]:
    like = sentences.signed_interval(o.like, o.se_like or o.se_these, m.measure, o.margin) if o.like else "–"
    return (
        sentences.change(o.estimate, o.se_these, m.measure),
        sentences.signed_interval(o.these, o.se_these, m.measure, o.margin),
        like,
    )


def _counts(material: Material) -> tuple[Section, ...]:
    """How many titles lie beyond the margin, and what that says of titles like these; of fewer than five it says nothing."""
    order = [s.name for s in material.study.setups]
    found = [
        (m, c)
        for setup in material.compared
        for m in material.leading
        for c in m.counts
        if c.setup == setup and c.titles >= FEWEST_COUNTED
    ]
    if not found:
        return ()
    table = Table(
        head=("setup", "measure", "behind beyond the margin", "ahead beyond the margin", "median title"),
        rows=tuple(
            (
                material.setup_label(c.setup),
                measure_name(m.measure),
                sentences.beyond(c, ahead=False),
                sentences.beyond(c, ahead=True),
                sentences.middle(c, m.measure),
            )
            for m, c in found
        ),
        columns=(Column.NAME, Column.WORDS, Column.WORDS, Column.WORDS, Column.FIGURE),
        caption=f"Titles against {material.setup_label(material.study.baseline)}. Perhaps more: titles whose interval does not "
        f"exclude it. In brackets: of titles like these, {confidence_words(material.study.confidence)} interval.",
        looks=tuple(order.index(c.setup) for _, c in found),
    )
    return (Section("counts", _counts_heading(material), label="how many titles", tables=(table,)),)


def _counts_heading(material: Material) -> str:
    """The setup with most titles beyond the margin in the average."""
    most = max(material.average.counts, key=lambda c: c.behind + c.ahead, default=None)
    if most is None or most.behind + most.ahead == 0:
        return "No title is beyond the margin in the average"
    where = [f"{n} {'is' if n == 1 else 'are'} {way}" for n, way in ((most.behind, "behind"), (most.ahead, "ahead")) if n]
    return f"Of {most.titles} titles, {wording.listed(where)} beyond the margin under {material.setup_label(most.setup)}"


def _glance(material: Material) -> Section:
    """Every title under every setup."""
    average = material.average
    rows, links = [], []
    for title in material.judgement.titles:
        cells = [material.title_label(title)]
        for setup in material.compared:
            own = [c for c in at_titles(material, average, setup) if c.title == title]
            cells.append(sentences.phrase(own[0], average.measure) + material.stale(setup, title) if own else "no runs")
        rows.append(tuple(cells))
        links.append(title_anchor(title))
    table = Table(
        head=("title", *(material.setup_label(s) for s in material.compared)),
        rows=tuple(rows),
        columns=(Column.NAME, *(Column.VERDICT for _ in material.compared)),
        caption=f"Average against {material.setup_label(material.study.baseline)}.",
        links=tuple(links),
    )
    charts = figures([_contrasts(material, m) for m in material.leading])
    return Section("glance", _glance_heading(material), label="all titles", figures=charts, tables=(table,))


def _contrasts(material: Material, judged: MeasureJudgement) -> Drawing:
    return lambda form: title_contrasts(material.study, judged, form=form)


def _glance_heading(material: Material) -> str:
    titles = len(material.judgement.titles)
    moved = {c.title for c in at_titles(material, material.average) if c.verdict in sentences.AHEAD | sentences.BEHIND}
    if not moved:
        return f"None of {titles} titles is clearly ahead or behind under any setup"
    verb = "responds" if len(moved) == 1 else "respond"
    return f"{len(moved)} of {titles} titles {verb} to the setup"


def _effects(material: Material) -> tuple[Section, ...]:
    if not material.average.effects:
        return ()
    study, average = material.study, material.average
    charts: list[Drawing] = [lambda form: factor_effects(study, average, form=form)]
    if many_effects(average):
        charts.append(lambda form: all_effects(study, average, form=form))
    return (Section("effects", "What each factor does, title by title", label="factors", figures=figures(charts)),)


def _others(material: Material) -> tuple[Section, ...]:
    leading = {m.measure.key for m in material.leading}
    rest = tuple(m for k, m in material.judgement.measures.items() if k not in leading and m.over)
    if not rest:
        return ()
    return (Section("other-measures", "Every other measure", tables=(_table(material, rest),), folded=True),)


def _cards(material: Material) -> tuple[tuple[str, str], ...]:
    """Spread between titles, and what a title not tested would do."""
    lines = []
    for o in material.average.over:
        if o.against == material.study.baseline and o.prediction is not None:
            span = sentences.signed_interval(o.prediction, o.se_like or o.se_these, material.average.measure, o.margin)
            wide = material.average.measure.scale is Scale.LOG and o.prediction.high - o.prediction.low > TOO_WIDE
            lines.append(f"{material.setup_label(o.setup)}: {'cannot be told, these titles differ too much' if wide else span}")
    if not lines:
        return _best(material)
    return (
        *_best(material),
        ("A title not tested", "\n".join(("would lie, in the average, with 95 % within", *lines))),
        ("Titles are not a random sample", "“Titles like these” holds as far as these titles stand for those you play."),
    )


def _best(material: Material) -> tuple[tuple[str, str], ...]:
    """Which setups may be the best over titles."""
    told = best_lines(material, None)
    return (("Which may be the best", "\n".join(told)),) if told else ()
