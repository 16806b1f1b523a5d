"""The recommendation: one answer, what speaks for and against each setup, and, folded, what other rules would name."""

from __future__ import annotations

from typing import Final

from evenhand import wording
from evenhand.charts.regrets import title_regrets
from evenhand.judging.advice.model import MeasureAdvice, Recommendation, Rule, RuleAdvice, SetupAdvice
from evenhand.measures.model import Better, Scale
from evenhand.study.model import Stated
from evenhand.units import NO_BREAK, number, percent, percent_of_log
from evenhand.writeup import sentences
from evenhand.writeup.advice_words import (
    MOST_EXCEPTIONS,
    by_size,
    chance,
    counts_what,
    exception,
    headline,
    power_found,
    power_word,
    stated,
)
from evenhand.writeup.answer import against_baseline
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.drawing import Drawing, figures
from evenhand.writeup.sections.naming import measure_name, title_anchor

MOST_NAMES: Final = 3
MOST_OPEN: Final = 6  # exceptions shown without being asked for
LEAST_SHOWN: Final = 0.05  # per cent
#: What the chance of being best takes for granted.
PRIOR: Final = (
    "Taken for granted: before the runs, every mean difference between setups was as likely as any other; titles lie around that "
    "mean, most of them close and a few far away, and how close, how far and how many is learned from these titles. What a visit "
    "does to all titles alike is drawn for all of them together. Where setups are nearly alike, these chances are too sure."
)
CHANCE: Final = " Chance: with every mean difference as likely beforehand as any other (more below)."
RULES: Final = {
    Rule.MEAN: "highest mean gain",
    Rule.WORST: "smallest worst regret",
    Rule.REGRET: "smallest mean regret, beyond the margin",
}


def recommendation(material: Material) -> Section | None:
    """None where there is nothing to choose by."""
    advice = material.advice
    if advice is None:
        return None
    return Section(
        anchor="recommendation",
        label="recommendation",
        heading=_heading(material, advice),
        figures=figures([_regrets(material, advice, key) for key in advice.weights if advice.regrets(key)]),
        tables=(_gains(material, advice), _titles(material, advice)),
        parts=(*_exceptions(material, advice), *_rules(material, advice), *_chances(material, advice)),
        aside=_cards(material, advice),
    )


def _regrets(material: Material, advice: Recommendation, measure: str) -> Drawing:
    judged = material.judgement.measures[measure]
    return lambda form: title_regrets(material.study, judged, advice.regrets(measure), form=form)


def _heading(material: Material, advice: Recommendation) -> str:
    """The answer, and at how many titles it is not the right one."""
    said = headline(material, advice)
    if not advice.exceptions:
        return said
    return f"{said}, with {wording.counted(len(advice.exceptions), 'title')} as the exception{'s'[: len(advice.exceptions) - 1]}"


def _exceptions(material: Material, advice: Recommendation) -> tuple[Section, ...]:
    """Every exception by name, where the answer on top could not name all."""
    if len(advice.exceptions) <= MOST_EXCEPTIONS:
        return ()
    told = tuple(f"{text[:1].upper()}{text[1:]}." for text in (exception(material, c) for c in by_size(advice)))
    heading = f"{len(told)} titles where another setup is clearly better"
    return (Section("exceptions", heading, label="exceptions", items=told, folded=len(told) > MOST_OPEN),)


def _gains(material: Material, advice: Recommendation) -> Table:
    rows = [_gain_row(material, advice, s, m) for s in advice.setups for m in s.measures]
    order = [s.name for s in material.study.setups]
    return Table(
        head=("setup", "measure", "mean gain", "worst regret", "mean regret", "near its best"),
        rows=tuple(rows),
        columns=(Column.NAME, Column.WORDS, Column.VERDICT, Column.FIGURE, Column.FIGURE, Column.FIGURE),
        caption=f"Gain: against {material.setup_label(advice.baseline)}. Regret: what a title loses against its best setup, "
        "titles drawn together as far as they are alike. Near its best: titles that lose no more than the margin.",
        looks=tuple(order.index(s.setup) for s in advice.setups for _ in s.measures),
    )


def _gain_row(material: Material, advice: Recommendation, own: SetupAdvice, found: MeasureAdvice) -> tuple[str, ...]:
    judged = material.judgement.measures[found.measure]
    over = [f for f in against_baseline(material, judged) if f.setup == own.setup]
    gain = sentences.short(over[0], judged.measure) if over else ("baseline" if own.setup == advice.baseline else "no runs")
    return (
        material.setup_label(own.setup),
        measure_name(judged.measure),
        gain,
        _worst(material, found),
        _loss(material, found, found.mean_regret),
        f"{found.within} of {found.titles}" if found.titles else "–",
    )


def _worst(material: Material, found: MeasureAdvice) -> str:
    lost = _loss(material, found, found.worst_regret)
    return f"{lost}, {material.title_label(found.worst_title)}" if found.worst_title and lost not in ("–", "none") else lost


def _loss(material: Material, found: MeasureAdvice, regret: float | None) -> str:
    """A regret as the share of the best that is lost, or in the measure's unit."""
    if regret is None:
        return "–"
    measure = material.judgement.measures[found.measure].measure
    if measure.scale is not Scale.LOG:
        return f"{number(regret, 1)}{NO_BREAK}{measure.unit}"
    lost = -percent_of_log(-regret) if measure.better is Better.HIGHER else percent_of_log(regret)
    return percent(lost, 0 if lost >= 10 else 1) if lost >= LEAST_SHOWN else "none"


def _titles(material: Material, advice: Recommendation) -> Table:
    """Titles by verdict, the chance of being best, and what counts beside frame rates, as far as there is any of it."""
    power = any(s.power for s in advice.setups)
    brings, gives_up = any(s.brings for s in advice.setups), any(s.gives_up for s in advice.setups)
    optional = ((power, "power drawn"), (brings, "brings"), (gives_up, "gives up"))
    head = (
        "setup",
        "clearly behind",
        "clearly ahead",
        "open",
        "chance of the highest mean",
        *(name for on, name in optional if on),
    )
    rows = []
    for own in advice.setups:
        beside = ((power, _power(own, advice)), (brings, _said(own.brings)), (gives_up, _said(own.gives_up)))
        cells = [_named(material, t) for t in (own.behind, own.ahead, own.unsettled)]
        best = "–" if own.best_chance is None else chance(own.best_chance, advice.draws)
        if own.setup == advice.baseline:
            cells = ["baseline", "–", "–"]
        rows.append((material.setup_label(own.setup), *cells, best, *(text for on, text in beside if on)))
    order = [s.name for s in material.study.setups]
    return Table(
        head=head,
        rows=tuple(rows),
        columns=(Column.NAME, *(Column.WORDS,) * 3, Column.FIGURE, *(Column.WORDS for on, _ in optional if on)),
        caption=f"Titles against {material.setup_label(advice.baseline)}, in any measure that counts."
        + (CHANCE if advice.draws else "")
        + _power_caption(power, advice.power is not None),
        looks=tuple(order.index(s.setup) for s in advice.setups),
    )


def _named(material: Material, titles: tuple[str, ...]) -> str:
    names = [material.title_label(t) for t in titles]
    if len(names) > MOST_NAMES:
        return f"{len(names)} titles"
    return f"{len(names)}: {sentences.named(names)}" if names else "none"


def _said(found: tuple[Stated, ...]) -> str:
    return wording.listed([stated(s) for s in found]) or "–"


def _power(own: SetupAdvice, advice: Recommendation) -> str:
    """`72 W (−20.0 %, less beyond the margin); 0.68 J a frame`; without a verdict, how much titles differ."""
    found = own.power
    if found is None:
        return "–"
    energy = "" if found.energy is None else f"; {number(found.energy, 2)}{NO_BREAK}J a frame"
    if own.setup == advice.baseline:
        return f"{number(found.watts, 0)}{NO_BREAK}W{energy}"
    judged = [f for f in power_found(advice) if (f.setup, f.against) == (own.setup, advice.baseline)]
    spread = "" if found.spread is None else f", titles{NO_BREAK}±{NO_BREAK}{percent(percent_of_log(found.spread), 0)}"
    said = f", {power_word(judged[0].verdict)}" if judged else spread
    return f"{number(found.watts, 0)}{NO_BREAK}W ({percent(percent_of_log(found.change), 1, sign=True)}{said}){energy}"


def _power_caption(shown: bool, judged: bool) -> str:
    if not shown:
        return ""
    rest = "judged by visits" if judged else "± is the standard deviation between titles"
    return f" Power: mean over titles, from the study's own table; {rest}."


def _rules(material: Material, advice: Recommendation) -> tuple[Section, ...]:
    if not advice.rules:
        return ()
    setups = tuple(s.setup for s in advice.setups)
    table = Table(
        head=("rule", "names", "in draws", "else"),
        rows=tuple(
            (
                RULES[r.rule],
                material.setup_label(r.setup),
                chance(r.share(setups), advice.draws),
                _else(material, r, setups, advice),
            )
            for r in advice.rules
        ),
        columns=(Column.NAME, Column.WORDS, Column.FIGURE, Column.WORDS),
        caption=f"How often each rule names the same setup in {advice.draws} draws of what may be true, given the runs.",
    )
    note = (
        f"{counts_what(material, advice)} A rule always names a setup, also where verdicts are open; the recommendation rests on "
        "verdicts. The mean of whole regrets would always name what the mean gain names, so the third rule counts only what "
        "exceeds the margin."
    )
    named = [material.setup_label(s) for s in dict.fromkeys(r.setup for r in advice.rules)]
    heading = f"Three simple rules name {wording.listed(named, 'or')}"
    return (Section("rules", heading, label="rules", paragraphs=(note,), tables=(table,), folded=True),)


def _else(material: Material, rule: RuleAdvice, setups: tuple[str, ...], advice: Recommendation) -> str:
    """What the rule names in the other draws, the most frequent first."""
    other = sorted(((share, s) for s, share in zip(setups, rule.shares, strict=True) if s != rule.setup), reverse=True)
    return wording.listed([f"{material.setup_label(s)} {chance(share, advice.draws)}" for share, s in other if share > 0]) or "–"


def _chances(material: Material, advice: Recommendation) -> tuple[Section, ...]:
    """Chance of being best at each title."""
    if not advice.title_chances:
        return ()
    rows = tuple(
        (material.title_label(title), *(chance(share, advice.draws) for share in shares))
        for title, shares in advice.title_chances.items()
    )
    table = Table(
        head=("title", *(material.setup_label(s.setup) for s in advice.setups)),
        rows=rows,
        columns=(Column.NAME, *(Column.FIGURE for _ in advice.setups)),
        caption=f"Share of {advice.draws} draws in which the setup is the best at the title.",
        links=tuple(title_anchor(title) for title in advice.title_chances),
    )
    heading = "Chance of being the best, title by title"
    return (Section("chances", heading, label="chances", paragraphs=(PRIOR,), tables=(table,), folded=True),)


def _cards(material: Material, advice: Recommendation) -> tuple[tuple[str, str], ...]:
    """What counts, and the rule that the answer follows."""
    base = material.setup_label(advice.baseline)
    rule = (
        f"Away from {base} only to a setup that is ahead of it beyond the margin over these titles in a measure that counts and "
        "behind in none; or to one that brings what the study states, is level or ahead, and clearly behind at no title."
    )
    weights = {t.label: t.weight for t in material.study.titles if t.weight != 1}
    votes = f"\nTitles weigh 1, but {wording.listed([f'{t} {w:g}' for t, w in weights.items()])}." if weights else ""
    return (("What counts", f"{counts_what(material, advice)}{votes}"), ("When to change", rule))
