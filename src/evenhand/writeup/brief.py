"""The short account for a terminal: doubtful runs, what holds over titles and at each title, what is open, what it depends on."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Sequence
from typing import Final

from evenhand import wording
from evenhand.charts.effects import effect_name
from evenhand.judging.model import Judgement, MeasureJudgement, Verdict
from evenhand.measures.model import Scale
from evenhand.screening.model import Flag, Screening, Weight
from evenhand.study.model import RunKey
from evenhand.units import duration_words, number, percent, percent_of_log
from evenhand.writeup import bench_words, sentences
from evenhand.writeup.advice_words import answer
from evenhand.writeup.answer import compared_titles
from evenhand.writeup.definitions_words import in_a_line
from evenhand.writeup.dependence_words import dependence_line
from evenhand.writeup.look_words import confidence_words
from evenhand.writeup.material import Material
from evenhand.writeup.model import Section, Table
from evenhand.writeup.sections.levels import curve_lines
from evenhand.writeup.sections.sealing import in_brief
from evenhand.writeup.sections.sensors import in_brief as slowed

MOST_DISAGREEMENTS: Final = 12
MOST_NOTES: Final = 2  # of a kind
FEWEST_ALIKE: Final = 3  # doubtful runs of a scene, for the same reason, that are told in one row
NUMBERS: Final = re.compile(r"\d+(?:\.\d+)?")


def account(material: Material) -> tuple[Section, ...]:
    """Every section that has something to say, in the order in which it should be read."""
    titles = [at_titles(material, judged) for judged in (*material.leading, *material.stated)]
    last = [factor_effects(material), still_open(material), depends(material), noted(material.screening), slowed(material)]
    dropped = {r.key for r in material.runs if not r.counts}
    seal = in_brief(material)
    warned = bool(material.marks)  # what must be seen stands first
    return (
        *bench_words.in_brief(material.study, material.proof),
        *([seal] if seal and warned else []),
        doubtful(material.screening, dropped),
        *recommended(material),
        over_titles(material),
        *titles,
        *(section for section in last if section is not None),
        *([seal] if seal and not warned else []),
    )


def doubtful(screening: Screening, dropped: Collection[RunKey] = ()) -> Section:
    """Runs with doubtful flags, with the reason and what to do; those that were dropped are only counted."""
    strong = [f for f in screening.flags if f.weight is Weight.DOUBTFUL and f.run not in dropped]
    runs = screening.doubtful()
    if runs:
        verb = "is" if len(runs) == 1 else "are"
        heading = f"{wording.counted(len(runs), 'run')} of {screening.runs} {verb} doubtful"
        if out := sum(run in dropped for run in runs):
            whose = f"{out} of them " if out < len(runs) else "it " if out == 1 else "they "
            heading += f"; {whose}{'does' if out == 1 else 'do'} not count (evenhand screen lists them)"
    else:
        heading = (
            f"None of the {screening.runs} runs is doubtful"
            if screening.runs > 1
            else "No run is doubtful"
            if screening.runs
            else "No run has frames to check"
        )
    return Section("doubtful", heading, tables=(flag_table(strong),) if strong else ())


def noted(screening: Screening) -> Section | None:
    """What the checks noticed that proposes nothing, a few of each kind; then what they could not tell."""
    items: list[str] = []
    by_check: dict[str, list[Flag]] = defaultdict(list)
    for flag in (f for f in screening.flags if f.weight is Weight.NOTE):
        by_check[flag.check].append(flag)
    for flags in by_check.values():
        items += [f"{_whom(f)}{f.sentence}" for f in flags[:MOST_NOTES]]
        rest = len(flags) - MOST_NOTES
        items += [f"and {rest} more like that: evenhand screen --json lists them"] if rest > 0 else []
    items += _untold(screening.untold)
    return Section("noted", "What the checks noticed, and what they cannot tell", items=tuple(items)) if items else None


def _whom(flag: Flag) -> str:
    """The run that a note is about, or the scene where it is about several runs of one; nothing where it is about more."""
    scenes = {(run.title, run.scene) for run in flag.covers}
    if not scenes:
        return f"{flag.run}: "
    title, scene = next(iter(scenes))
    return "" if len(scenes) > 1 else f"{title}: " if scene == title else f"{title} {scene}: "


def _untold(remarks: Sequence[str]) -> list[str]:
    """Remarks about scenes that say the same but for the numbers: a few, and how many more there are."""
    alike: dict[str, list[str]] = defaultdict(list)
    for remark in remarks:
        scene, _, text = remark.partition(": ")
        alike[NUMBERS.sub("#", text or scene)].append(remark)
    items: list[str] = []
    for same in alike.values():
        rest = len(same) - MOST_NOTES
        items += same[:MOST_NOTES] if rest > 1 else same
        items += [f"and the same of {rest} scenes more: evenhand screen --json lists them"] if rest > 1 else []
    return items


def recommended(material: Material) -> tuple[Section, ...]:
    """What to choose, in two to four sentences."""
    if material.advice is None:
        return ()
    first, *rest = answer(material, material.advice)
    return (Section("recommendation", first.removesuffix("."), paragraphs=tuple(rest)),)


def flag_table(flags: Sequence[Flag]) -> Table:
    """One row a flag: the run, what was found, what to do; one row for several runs of a scene that the same check found."""
    alike: dict[tuple[str, str, str], list[Flag]] = defaultdict(list)
    for flag in flags:
        alike[flag.run.title, flag.run.scene, flag.check].append(flag)
    rows: list[tuple[str, ...]] = []
    for same in alike.values():
        rows += [_rows_of_one(same)] if len(same) >= FEWEST_ALIKE else [(str(f.run), f.sentence, f.advice) for f in same]
    return Table(("run", "what was found", "what to do"), tuple(rows), (False, False, False))


def _rows_of_one(flags: Sequence[Flag]) -> tuple[str, str, str]:
    """Several runs of a scene in one row, with what was found in the first."""
    first = flags[0]
    said = f"{first.sentence} ({first.run.setup} v{first.run.visit} r{first.run.run}, and the like of the others)"
    return run_names([f.run for f in flags]), said, first.advice


def run_names(runs: Sequence[RunKey]) -> str:
    """Runs of one scene: `ironvale, 3 runs: lean v1 r1, v2 r1; plain v1 r1`."""
    scene = runs[0].title if runs[0].scene == runs[0].title else f"{runs[0].title}/{runs[0].scene}"
    by_setup: dict[str, list[str]] = defaultdict(list)
    for run in runs:
        by_setup[run.setup].append(f"v{run.visit} r{run.run}")
    named = [f"{setup} {', '.join(own)}" for setup, own in by_setup.items()]
    return f"{scene}, {len(runs)} runs: {'; '.join(named)}"


def over_titles(material: Material, measures: Sequence[str] = ()) -> Section:
    """Each setup against the baseline over all titles, in the measures that lead the report or in those named."""
    judged_of = material.judgement.measures
    shown = [judged_of[m] for m in measures if m in judged_of] or [*material.leading, *material.stated]
    base = material.setup_label(material.study.baseline)
    names = {s.name: s.label for s in material.study.setups}
    first = [o for o in shown[0].over if o.against == material.study.baseline]
    heading = f"Over {wording.counted(compared_titles(material), 'title')}: {sentences.headline(first, names, base)}"
    columns = [
        {
            o.setup: sentences.phrase(o, judged.measure) + material.stale(o.setup)
            for o in judged.over
            if o.against == material.study.baseline
        }
        for judged in shown
    ]
    rows = tuple((material.setup_label(name), *(c.get(name, "–") for c in columns)) for name in material.compared)
    head = (f"against {base}", *(judged.measure.label for judged in shown))
    return Section(
        "over",
        heading,
        paragraphs=(rests_on(material), *dependence_line(material)),
        tables=(Table(head, rows, (False,) * len(head)),),
    )


def rests_on(material: Material) -> str:
    """How much was recorded, and how it was analysed."""
    judgement = material.judgement
    unproven = sum(not r.proven for r in material.runs if r.counts)
    seconds = sum(r.seconds for r in material.runs if r.counts)
    rounds = "rounds taken out" if material.average.rounds_used else "no rounds"
    confidence = confidence_words(judgement.design.confidence)
    said = (
        f"Rests on {wording.counted(judgement.runs, 'run')} ({duration_words(seconds)}), the visit as the unit, {rounds}; "
        f"{confidence} intervals."
    )
    if material.unseen:
        were = "was" if material.unseen == 1 else "were"
        said += f" {wording.counted(material.unseen, 'run')} came without frames and {were} not screened."
    if not unproven:
        return said
    whose = (
        "No run's setup is proven"
        if unproven == judgement.runs
        else f"The setup of {wording.counted(unproven, 'run')} is unproven"
    )
    return f"{said} {whose}: labels are taken on trust."


def at_titles(material: Material, judged: MeasureJudgement) -> Section:
    """One measure: a row a title, its value under the baseline and each setup's difference."""
    base = material.study.baseline
    value = {(c.title, c.setup): c for c in judged.cells}
    found = {(c.title, c.setup): c for c in judged.comparisons if c.against == base}
    rows = []
    had = {c.title for c in judged.cells}
    for title in (t for t in material.judgement.titles if judged.measure.framed or t in had):
        cell = value.get((title, base))
        against = [found.get((title, setup)) for setup in material.compared]
        words = [sentences.short(c, judged.measure) + material.stale(c.setup, title) if c else "–" for c in against]
        rows.append((material.title_label(title), number(cell.value, 0 if cell.value >= 100 else 1) if cell else "–", *words))
    head = ("title", material.setup_label(base), *(material.setup_label(s) for s in material.compared))
    margin = sentences.margin_words(judged.measure, judged.margin)
    caption = f"{head[1]} in {judged.measure.unit}, others against it; beyond = beyond the margin of {margin}"
    table = Table(head, tuple(rows), (False, *(True,) * (len(head) - 1)), caption)
    heading = f"{judged.measure.label} at each title"
    return Section(f"titles-{judged.measure.key}", heading, tables=(table,), items=_held(material, judged))


def _held(material: Material, judged: MeasureJudgement) -> tuple[str, ...]:
    """A warning at each title that is level somewhere while a cap holds it."""
    level = {c.title for c in judged.comparisons if c.verdict is Verdict.LEVEL and c.against == material.study.baseline}
    return tuple(
        f"{material.title_label(title)}: {said.removesuffix('.')}; “level” may be the cap's doing"
        for title in material.judgement.titles
        if title in level
        for said in material.held(title)
    )


def factor_effects(material: Material) -> Section | None:
    """What each factor does over titles, and whether factors need each other."""
    kinds = {(e.factors, e.levels): e for judged in material.leading for e in judged.effects if e.title is None}
    if not kinds:
        return None
    rows = []
    for kind, effect in kinds.items():
        own = [[e for e in judged.effects if e.title is None and (e.factors, e.levels) == kind] for judged in material.leading]
        words = (sentences.effect_words(e[0], m.measure) if e else "–" for e, m in zip(own, material.leading, strict=True))
        name = effect_name(material.study, effect)
        rows.append((f"{name}, beyond the sum of each alone" if len(effect.factors) > 1 else name, *words))
    head = ("effect", *(judged.measure.label for judged in material.leading))
    table = Table(head, tuple(rows), (False,) * len(head))
    return Section("factors", "What the factors do, over titles", tables=(table,), items=curve_lines(material, None))


def still_open(material: Material) -> Section | None:
    """What cannot be told, and what would settle it."""
    items = []
    for judged in material.leading:
        against = [c for c in judged.comparisons if c.against == material.study.baseline]
        opened = [c for c in against if c.verdict is Verdict.OPEN]
        if opened:
            are = "is" if len(opened) == 1 else "are"
            items.append(
                f"{judged.measure.label}: {len(opened)} of {len(against)} comparisons {are} open; "
                f"{sentences.settling(opened) or _noisy(judged)}"
            )
        if any(c.verdict is Verdict.UNTOLD for c in against):
            items.append(f"{judged.measure.label}: one visit a setup bears no verdict; a second visit of each setup would")
    if not items:
        return None
    return Section("open", "What these runs cannot tell, and what would settle it", items=tuple(items))


def _noisy(judged: MeasureJudgement) -> str:
    """Why no sensible number of visits would settle anything."""
    shift = judged.noise.shift
    if shift is None or judged.measure.scale is not Scale.LOG:
        return "more visits alone are not expected to settle that, quieter ones would"
    spread = percent(percent_of_log(shift), 0)
    return f"visits of a setup vary by about {spread}: more visits alone are not expected to settle that, quieter ones would"


def _notes(judgement: Judgement) -> tuple[str, ...]:
    """What the judge notes; once where it says the same of several measures."""
    labels = {judged.measure.label for judged in judgement.measures.values()}
    alike: dict[str, list[str]] = defaultdict(list)
    plain = []
    for note in judgement.notes:
        label, _, text = note.partition(": ")
        if label in labels:
            alike[text].append(label)
        else:
            plain.append(note)
    more = {text: f" and {wording.counted(len(of) - 1, 'other measure')}" if len(of) > 1 else "" for text, of in alike.items()}
    return (*(f"{of[0]}{more[text]}: {text}" for text, of in alike.items()), *plain)


def depends(material: Material) -> Section | None:
    """Verdicts against the baseline, in the leading measures, that another way of doing the analysis would change; notes."""
    labels = {judged.measure.key: judged.measure.label for judged in material.leading}
    alike: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for d in (*material.disagreements, *material.judgement.disagreements):
        if d.measure in labels and d.against == material.study.baseline:
            where = material.title_label(d.title) if d.title else "over titles"
            change = d.way, labels[d.measure], sentences.disagreement(d.shown, d.other)
            alike[change].append(f"{where} {material.setup_label(d.setup)}")
    told = [f"{way}, {label}, {wording.listed(places)}: {change}" for (way, label, change), places in alike.items()]
    count = sum(map(len, alike.values()))
    rest = len(told) - MOST_DISAGREEMENTS
    items = (*told[:MOST_DISAGREEMENTS], *([f"and {rest} more: evenhand judge --json lists them"] if rest > 0 else []))
    items += (*in_a_line(material), *_notes(material.judgement))
    if not items:
        return None
    how_many = f": {wording.counted(count, 'verdict')} would differ done another way" if count else ""
    return Section("depends", f"What it depends on{how_many}", items=items)
