"""What was found in a few sentences, made from the verdicts: title by title, over titles, and how sure.

Each sentence is put together from what `sentences` says, so it never says more than the verdicts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evenhand import wording
from evenhand.judging.model import Comparison, MeasureJudgement, OverTitles, Verdict
from evenhand.screening.model import Standing
from evenhand.writeup import sentences
from evenhand.writeup.material import Material
from evenhand.writeup.sections.naming import measure_name


def headline(material: Material) -> str:
    """The situation over titles in one short sentence."""
    found = against_baseline(material, material.average)
    text = sentences.headline(found, labels(material), material.setup_label(material.study.baseline))
    return text[:1].upper() + text[1:]


def answer(material: Material) -> tuple[str, str, str]:
    """What was found, counts of titles before their mean; and how sure it is."""
    found = _by_title(material), _over(material)
    first, second = found if len(material.judgement.titles) > 1 else found[::-1]
    return first, second, _how_sure(material)


def against_baseline(material: Material, judged: MeasureJudgement) -> tuple[OverTitles, ...] | tuple[Comparison, ...]:
    """Every setup against the baseline over titles; with a single title, at that title."""
    base = material.study.baseline
    over = {o.setup: o for o in judged.over if o.against == base}
    if len(material.judgement.titles) > 1:
        return tuple(over[s] for s in material.compared if s in over)
    single = {c.setup: c for c in judged.comparisons if c.against == base}
    return tuple(single[s] for s in material.compared if s in single)


def labels(material: Material) -> dict[str, str]:
    """Setup name -> label."""
    return {s.name: material.setup_label(s.name) for s in material.study.setups}


def at_titles(material: Material, judged: MeasureJudgement, setup: str | None = None) -> list[Comparison]:
    """Comparisons with the baseline, title by title; of one setup or of all."""
    base = material.study.baseline
    return [c for c in judged.comparisons if c.against == base and setup in (None, c.setup)]


def best_lines(material: Material, title: str | None) -> list[str]:
    """Which setups may be the best at a title, or over titles (None), a line for each leading measure."""
    found = {_name(m): [b for b in m.best if b.title == title] for m in material.leading}
    return [f"{name}: {sentences.best(own, labels(material))}" for name, own in found.items() if own]


def _over(material: Material) -> str:
    """The average of every setup; of the low only what differs from it."""
    base, names, where = material.setup_label(material.study.baseline), labels(material), _where(material)
    average = against_baseline(material, material.average)
    if not average:
        return f"Nothing could be compared with {base} {where}."
    said = f"In the {_name(material.average)}, {where}, {sentences.clauses(average, names, base, material.average.measure)}"
    for judged in material.leading[1:]:
        said += f"; {_beside(average, against_baseline(material, judged), judged, names, base)}"
    return f"{said}."


def _beside(
    first: Sequence[OverTitles | Comparison],
    second: Sequence[OverTitles | Comparison],
    judged: MeasureJudgement,
    names: Mapping[str, str],
    base: str,
) -> str:
    """A second measure beside the first: where its verdicts are the same, only that."""
    verdicts = {f.setup: f.verdict for f in first}
    other = [f for f in second if verdicts.get(f.setup) is not f.verdict]
    if not second:
        return f"the {_name(judged)} could not be compared"
    if not other:
        return f"the {_name(judged)} has the same verdicts"
    if len(other) == len(second):
        return f"in the {_name(judged)}, {sentences.clauses(other, names, base, judged.measure)}"
    return f"the {_name(judged)} has the same verdicts, except that there {sentences.clauses(other, names, base, judged.measure)}"


def _where(material: Material) -> str:
    """Over how many titles, or in which one."""
    titles = material.judgement.titles
    if len(titles) < 2:
        return f"in {material.title_label(titles[0])}" if titles else "so far"
    return f"over these {compared_titles(material)} titles"


def compared_titles(material: Material) -> int:
    """Number of titles that the mean over titles rests on."""
    return max((o.titles for o in material.average.over), default=len(material.judgement.titles))


def _name(judged: MeasureJudgement) -> str:
    return measure_name(judged.measure)


def _by_title(material: Material) -> str:
    """Counts first: titles beyond the margin under each setup, the farthest of them by name."""
    titles = {t: material.title_label(t) for t in material.judgement.titles}
    if len(titles) < 2:
        return "One title says nothing about others."
    names = {s: material.setup_label(s) for s in material.compared}
    parts: dict[str, list[str]] = {}
    for judged in material.leading:
        found = at_titles(material, judged)
        told = [sentences.counts(found, v, names, titles, judged.measure) for v in (Verdict.BEHIND_BEYOND, Verdict.AHEAD_BEYOND)]
        said = "; ".join(text for text in told if text) or _nothing(material, judged)
        parts.setdefault(said, []).append(_name(judged))
    told = [f"in the {wording.listed(where)}, {said}" for said, where in parts.items()]
    return f"Of {len(titles)} titles, {'; '.join(told)}."


def _nothing(material: Material, judged: MeasureJudgement) -> str:
    """What to say where no title is ahead or behind."""
    found = at_titles(material, judged)
    level = sum(c.verdict is Verdict.LEVEL for c in found)
    if found and level == len(found):
        return "every title is level under every setup"
    if found and all(c.verdict is Verdict.UNTOLD for c in found):
        return "one visit a setup bears no verdict at any title"
    return f"no title is clearly ahead or behind under any setup; {level} of {len(found)} comparisons are level"


def _how_sure(material: Material) -> str:
    found = at_titles(material, material.average)
    undecided = [c for c in found if c.verdict is Verdict.OPEN]
    told = [c for c in found if c.verdict is Verdict.UNTOLD]
    count = wording.counted(len(found), "comparison")
    if told:
        state = f"Of {count} in the {_name(material.average)} none can bear a verdict, since each setup was visited once"
    elif undecided:
        hope = sentences.settling(undecided)
        rest = f" ({hope})" if hope else ""
        state = f"Of {count} in the {_name(material.average)} {len(undecided)} {_are(len(undecided))} open{rest}"
    else:
        state = f"All {count} in the {_name(material.average)} are settled"
    return f"{state}; {basis(material)}."


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def basis(material: Material) -> str:
    """What everything rests on: visits, runs, what was set aside, whether the setups are proven."""
    counting = [r for r in material.runs if r.counts]
    visits = _visits(material)
    aside = sum(r.standing is Standing.SET_ASIDE for r in material.runs)
    redo = sum(r.standing is Standing.REDO for r in material.runs)
    dropped = [f"{aside} set aside"] * bool(aside) + [f"{redo} to redo"] * bool(redo)
    more = f", with {wording.listed(dropped)}" if dropped else ""
    proof = "; no snapshot confirmed the setups, so labels are taken on trust" if material.unproven else ""
    runs = wording.counted(len(counting), "run") if material.runs else wording.counted(material.judgement.runs, "run")
    return f"it rests on {visits} a setup and {runs}{more}{proof}"


def _visits(material: Material) -> str:
    counts = sorted({c.visits for c in material.average.cells})
    if not counts:
        return "no visits"
    return wording.counted(counts[0], "visit") if len(counts) == 1 else f"{counts[0]} to {wording.counted(counts[-1], 'visit')}"
