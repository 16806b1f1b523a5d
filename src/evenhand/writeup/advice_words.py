"""The recommendation in words. What it says of a setup is a verdict as `sentences` words it; it adds none of its own.

The words "ahead", "behind", "level" and "open" stand only where a verdict over titles, or at a title, bears them.
"""

from __future__ import annotations

from typing import Final

from evenhand import wording
from evenhand.judging.advice.model import Reason, Recommendation, SetupAdvice
from evenhand.judging.model import Comparison, MeasureJudgement, OverTitles, Verdict
from evenhand.study.model import Stated
from evenhand.units import number, percent
from evenhand.writeup import sentences
from evenhand.writeup.answer import against_baseline, labels
from evenhand.writeup.material import Material
from evenhand.writeup.sections.naming import measure_name

Found = OverTitles | Comparison

MOST_EXCEPTIONS: Final = 2


def headline(material: Material, advice: Recommendation) -> str:
    """The answer in a few words: `Choose C`, `Stay with A`, `Cannot tell yet whether to leave A`."""
    name = material.setup_label(advice.setup)
    if advice.reason is Reason.OPEN:
        return f"Cannot tell yet whether to leave {name}"
    return f"Stay with {name}" if advice.reason is Reason.NONE_BETTER else f"Choose {name}"


def advised(material: Material) -> tuple[str, ...]:
    """The recommendation as one paragraph; nothing where there is none."""
    return () if material.advice is None else (" ".join(answer(material, material.advice)),)


def answer(material: Material, advice: Recommendation) -> tuple[str, ...]:
    """The answer in two to four sentences: what to choose and why; its exceptions; what it gives up; what else may do."""
    told = [_REASONS[advice.reason](material, advice), exceptions(material, advice), *_stated(advice.of(advice.setup))]
    return tuple(text for text in (*told, _rivals(material, advice), _trades(material, advice)) if text)


def _ahead(material: Material, advice: Recommendation) -> str:
    return f"{headline(material, advice)}: {_verdicts(material, advice, advice.setup)}."


def _benefit(material: Material, advice: Recommendation) -> str:
    own = advice.of(advice.setup)
    why = wording.listed([stated(s) for s in own.brings]) or "less power"
    open_ = wording.counted(len(own.unsettled), "title")
    settled = f", and it is clearly behind at no title{f' (open at {open_})' if own.unsettled else ''}"
    return f"{headline(material, advice)} for what it brings ({why}): {_verdicts(material, advice, advice.setup)}{settled}."


def _none_better(material: Material, advice: Recommendation) -> str:
    mixed = " in one measure without being behind in another" if advice.mixed else ""
    return f"{headline(material, advice)}: {_where(material)} no other setup is, or may be, ahead of it beyond the margin{mixed}."


def _open(material: Material, advice: Recommendation) -> str:
    base = material.setup_label(advice.baseline)
    found = [f for setup in (*advice.open, *advice.benefit_open) for _, f in _found(material, advice, setup)]
    unsettled = [f for f in found if f.verdict in _UNSETTLED]
    if not found:
        missing = wording.listed([material.setup_label(s) for s in advice.open])
        return f"{headline(material, advice)}: there are no runs to compare {missing} with it by."
    if all(f.verdict is Verdict.UNTOLD for f in unsettled):
        return f"{headline(material, advice)}: one visit a setup bears no verdict; it takes a second visit of each."
    hope = sentences.settling([f for f in unsettled if f.visits_to_settle])
    more = f"; {hope}" if hope else ""
    return (
        f"{headline(material, advice)}: {_not_settled(material, advice, 'it')}{more}. Nothing so far is a reason to leave {base}."
    )


def _not_settled(material: Material, advice: Recommendation, base: str) -> str:
    """`of B it is not settled whether it is ahead of A beyond the margin`."""
    told = []
    for setups, what in ((advice.open, f"ahead of {base} beyond the margin"), (advice.benefit_open, f"behind {base}")):
        if setups:
            names = sentences.named([material.setup_label(s) for s in setups])
            which = "it is" if len(setups) == 1 else "any of them is"
            told.append(f"of {names} it is not settled whether {which} {what}")
    return "; ".join(told)


_UNSETTLED: Final = frozenset({Verdict.OPEN, Verdict.UNTOLD, Verdict.AHEAD, Verdict.AHEAD_BEYOND})
_REASONS: Final = {Reason.AHEAD: _ahead, Reason.BENEFIT: _benefit, Reason.NONE_BETTER: _none_better, Reason.OPEN: _open}


def by_size(advice: Recommendation) -> list[Comparison]:
    """The exceptions, the clearest first."""
    return sorted(advice.exceptions, key=lambda c: -abs(c.estimate) / c.margin)


def exceptions(material: Material, advice: Recommendation) -> str:
    """Titles where another setup is clearly better than the one recommended; empty where there is none."""
    found = by_size(advice)
    if not found:
        return ""
    told = "; ".join(exception(material, c) for c in found[:MOST_EXCEPTIONS])
    if len(found) == 1:
        return f"The exception: {told}."
    rest = "" if len(found) <= MOST_EXCEPTIONS else ", most clearly"
    return f"Exceptions are {wording.counted(len(found), 'title')}{rest}: {told}."


def exception(material: Material, found: Comparison) -> str:
    """`in Night Ferry C is behind A beyond the margin (9 to 15 %)`."""
    measure = material.judgement.measures[found.measure].measure
    base = material.setup_label(found.against)
    clause = sentences.clauses([found], labels(material), base, measure)
    inside = "" if found.measure == material.average.measure.key else f", in the {measure_name(measure)},"
    return f"in {material.title_label(found.title)}{inside} {clause}"


def stated(said: Stated) -> str:
    """`draws less: −24 watts`."""
    numbers = [f"{number(v, 0 if float(v).is_integer() else 1, sign=True)} {unit}" for unit, v in said.numbers.items()]
    return f"{said.words}: {wording.listed(numbers)}" if numbers else said.words


def _stated(own: SetupAdvice) -> list[str]:
    """What the study itself says of the setup recommended."""
    return [f"It gives up {wording.listed([stated(s) for s in own.gives_up])}, as the study states."] if own.gives_up else []


def _rivals(material: Material, advice: Recommendation) -> str:
    """Others with the same reason that the verdicts cannot tell from it, and others that may turn out to have one."""
    name, base = material.setup_label(advice.setup), material.setup_label(advice.baseline)
    told = []
    if advice.rivals:
        one = len(advice.rivals) == 1
        who = sentences.named([material.setup_label(s) for s in advice.rivals])
        same = (
            f"{_are(one)} ahead of {base} beyond the margin too"
            if advice.reason is Reason.AHEAD
            else "would do by the same reason"
        )
        told.append(f"{who} {same}, and {name} is not clearly ahead of {'it' if one else 'them'}.")
    if (advice.open or advice.benefit_open) and advice.reason is not Reason.OPEN:
        left = _not_settled(material, advice, base)
        told.append(f"{left[:1].upper()}{left[1:]}.")
    return " ".join(told)


def _are(one: bool) -> str:
    return "is" if one else "are"


def _trades(material: Material, advice: Recommendation) -> str:
    told = [_clauses(material, advice, setup) for setup in advice.trades]
    return f"For the reader to weigh: {'; '.join(told)}." if told else ""


def _verdicts(material: Material, advice: Recommendation, setup: str) -> str:
    """`over these 12 titles it is ahead of A beyond the margin in the average (6 to 9 %) and level with A in the low (…)`."""
    return f"{_where(material)} {_clauses(material, advice, setup, 'it')}"


def _clauses(material: Material, advice: Recommendation, setup: str, name: str | None = None) -> str:
    """The setup's verdicts against the baseline, measures with the same verdict together."""
    base, who = material.setup_label(advice.baseline), name or material.setup_label(setup)
    told: dict[str, list[str]] = {}
    for judged, found in _found(material, advice, setup):
        clause = sentences.clauses([found], {setup: who}, base, judged.measure, brackets=False)
        where = f"in the {measure_name(judged.measure)} ({sentences.reach_or_tipping(found, judged.measure)})"
        told.setdefault(clause.removeprefix(f"{who} "), []).append(where)
    said = wording.listed([f"{clause} {wording.listed(where)}" for clause, where in told.items()])
    return f"{who} {said}" if said else f"nothing could be compared with {base}"


def _found(material: Material, advice: Recommendation, setup: str) -> list[tuple[MeasureJudgement, Found]]:
    """What the verdicts are of a setup against the baseline, in the measures that have weight."""
    measures = [m for key, m in material.judgement.measures.items() if key in advice.weights]
    return [(m, f) for m in measures for f in against_baseline(material, m) if f.setup == setup]


def _where(material: Material) -> str:
    judged = {c.title for m in material.leading for c in m.cells}
    titles = [title for title in material.judgement.titles if title in judged]
    return f"over these {len(titles)} titles" if len(titles) > 1 else f"in {material.title_label(titles[0])}"


def power_word(verdict: Verdict) -> str:
    """A verdict on power, where better is less: `less, beyond the margin`."""
    return _POWER[verdict]


_POWER: Final = {
    Verdict.AHEAD_BEYOND: "less, beyond the margin",
    Verdict.AHEAD: "less",
    Verdict.BEHIND_BEYOND: "more, beyond the margin",
    Verdict.BEHIND: "more",
    Verdict.LEVEL: "level",
    Verdict.OPEN: "open",
    Verdict.UNTOLD: "no verdict",
}


def power_found(advice: Recommendation) -> tuple[Found, ...]:
    """What was judged of power: over titles, or at the only one."""
    return () if advice.power is None else advice.power.over or advice.power.comparisons


def chance(share: float, draws: int) -> str:
    """A share of draws as it is printed: never 0 or 100 %, which no number of draws could show."""
    least = 100.0 / draws
    if share * 100 < least:
        return f"under {percent(max(least, 1.0), 0)}"
    return f"over {percent(99.0, 0)}" if share > 0.99 else percent(100 * share, 0)


def counts_what(material: Material, advice: Recommendation) -> str:
    """What has weight: `Counted are the average frame rate and the 1 % low, with equal weights; a gain is counted in margins.`"""
    named = [(measure_name(material.judgement.measures[key].measure), w) for key, w in advice.weights.items()]
    named += [("power drawn", advice.power_weight)] * (advice.power_weight > 0)
    if len(named) == 1:
        return f"Only the {named[0][0]} counts."
    if len({w for _, w in named}) == 1:
        return f"The {wording.listed([n for n, _ in named])} count alike, each in its margins."
    return f"Weights, each measure in its margins: {wording.listed([f'{n} {w:g}' for n, w in named])}."
