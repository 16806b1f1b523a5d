"""What disagrees: verdicts that another sound way of doing it gives."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evenhand import wording
from evenhand.judging.model import Disagreement, MeasureJudgement, Verdict
from evenhand.screening.model import Standing
from evenhand.writeup import sentences
from evenhand.writeup.answer import labels
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import measure_name

#: Rows of a table before the rest is only counted: more than this nobody reads.
MOST_ROWS = 60


def disagree(material: Material) -> Section:
    """Rounds or none, set-aside runs put back, average against low, and what a step found; definitions of the low stand apart."""
    ways = other_ways(material)
    every = [d for own in ways.values() for d in own]
    return Section(
        anchor="disagreements",
        label="what disagrees",
        heading=_heading(every),
        lead="Each line is another sound way of doing it. Where verdicts stay, the answer does not hang on that choice.",
        items=tuple(f"{way}: {_outcome(own)}" for way, own in ways.items()),
        tables=_tables(material, every),
        parts=_sides(material),
    )


def other_ways(material: Material) -> dict[str, list[Disagreement]]:
    """Way in words -> verdicts of the leading measures against the baseline that it changes; ways that change none included."""
    ways = dict(_ways(material))
    known = {_address(d) for own in ways.values() for d in own}
    leading = {m.measure.key for m in material.leading}
    for d in dict.fromkeys((*material.judgement.disagreements, *material.disagreements)):
        if d.measure in leading and d.against == material.study.baseline and _address(d) not in known:
            ways.setdefault(f"{d.way[:1].upper()}{d.way[1:]}", []).append(d)
    alone = len(material.judgement.titles) < 2
    return {way: [d for d in found if d.title or not alone] for way, found in ways.items()}


def _heading(found: list[Disagreement]) -> str:
    over = sum(d.title is None for d in found)
    if not found:
        return "No other way of doing it changes a verdict against the baseline"
    where = f", {over} of them over titles" if over else ", none of them over titles"
    return f"{wording.counted(len(found), 'verdict')} would read otherwise if done another way{where}"


def _ways(material: Material) -> Mapping[str, list[Disagreement]]:
    """Way in words -> verdicts of the leading measures against the baseline that differ."""
    ways: dict[str, list[Disagreement]] = {}
    if material.judgement.other_rounds is not None:
        way = "Without a term for rounds" if material.average.rounds_used else "With a term for rounds"
        ways[way] = _differences(material, way, material.judgement.other_rounds)
    if material.put_back is not None:
        aside = sum(r.standing is not Standing.KEPT for r in material.runs)
        way = f"With {wording.counted(aside, 'dropped run')} put back" if aside else "With every dropped run put back"
        ways[way] = _differences(material, way, material.put_back.measures)
    return ways


def _differences(material: Material, way: str, others: Mapping[str, MeasureJudgement]) -> list[Disagreement]:
    return [d for m in material.leading if m.measure.key in others for d in _compare(material, way, m, others[m.measure.key])]


def _compare(material: Material, way: str, shown: MeasureJudgement, other: MeasureJudgement) -> list[Disagreement]:
    base, theirs = material.study.baseline, _verdicts(other)
    return [
        Disagreement(way, shown.measure.key, title, setup, against, verdict, theirs[title, setup, against])
        for (title, setup, against), verdict in _verdicts(shown).items()
        if against == base and theirs.get((title, setup, against), verdict) is not verdict
    ]


def _verdicts(judged: MeasureJudgement) -> dict[tuple[str | None, str, str], Verdict]:
    over: dict[tuple[str | None, str, str], Verdict] = {(None, o.setup, o.against): o.verdict for o in judged.over}
    return over | {(c.title, c.setup, c.against): c.verdict for c in judged.comparisons}


def _address(found: Disagreement) -> tuple[str, str | None, str, str, Verdict, Verdict]:
    return (found.measure, found.title, found.setup, found.against, found.shown, found.other)


def _outcome(found: list[Disagreement]) -> str:
    if not found:
        return "no verdict changes."
    turned = sum(_side(d.shown) * _side(d.other) < 0 for d in found)
    more = f", {turned} from ahead to behind or back" if turned else ", none from ahead to behind or back"
    return (
        f"{wording.counted(len(found), 'verdict')} changes{more}." if len(found) == 1 else f"{len(found)} verdicts change{more}."
    )


def _side(verdict: Verdict) -> int:
    return (verdict in sentences.AHEAD) - (verdict in sentences.BEHIND)


def _tables(material: Material, found: Iterable[Disagreement]) -> tuple[Table, ...]:
    every = sorted(found, key=lambda d: d.title is not None)
    if not every:
        return ()
    names, order = labels(material), [s.name for s in material.study.setups]
    rows = tuple(
        (
            names.get(d.setup, d.setup),
            "over titles" if d.title is None else material.title_label(d.title),
            _measure(material, d.measure),
            sentences.word(d.shown),
            sentences.word(d.other),
            f"{d.way[:1].upper()}{d.way[1:]}",
        )
        for d in every[:MOST_ROWS]
    )
    left = len(every) - len(rows)
    return (
        Table(
            head=("setup", "title", "measure", "as shown", "this way", "the way"),
            rows=rows,
            columns=(Column.NAME, Column.WORDS, Column.WORDS, Column.VERDICT, Column.VERDICT, Column.WORDS),
            caption=f"Against {material.setup_label(material.study.baseline)}."
            + (f" {left} more are not listed." if left else ""),
            looks=tuple(order.index(d.setup) if d.setup in order else -1 for d in every[:MOST_ROWS]),
        ),
    )


def _sides(material: Material) -> tuple[Section, ...]:
    """Titles in which the average and the low tell different stories."""
    if material.own_low is None:
        return ()
    base, theirs = material.study.baseline, _verdicts(material.own_low)
    lines = []
    for c in material.average.comparisons:
        other = theirs.get((c.title, c.setup, c.against))
        if c.against != base or other is None or Verdict.UNTOLD in (c.verdict, other):
            continue
        clear = sentences.AHEAD | sentences.BEHIND | {Verdict.LEVEL}
        if _side(c.verdict) != _side(other) and {c.verdict, other} <= clear:
            lines.append(
                f"{material.title_label(c.title)}, {material.setup_label(c.setup)}: "
                f"the average is {sentences.word(c.verdict)}, the low is {sentences.word(other)}."
            )
    heading = (
        f"Average and low tell different stories in {wording.counted(len(lines), 'case')}"
        if lines
        else "Average and low tell the same story"
    )
    text = () if lines else ("Where both are settled, neither is ahead, level or behind without the other.",)
    return (Section("sides", heading, paragraphs=text, items=tuple(lines)),)


def _measure(material: Material, key: str) -> str:
    found = material.measure(key)
    return measure_name(found) if found else key
