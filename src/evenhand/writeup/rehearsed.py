"""A rehearsal in words and tables for a terminal: what to expect, what the hours buy, what is missing, what it rests on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from evenhand import wording
from evenhand.measures.model import Measure
from evenhand.rehearsal.model import Alternative, Counted, Expected, Needed, OpenVerdict, Outlook, Rehearsal, Spreads
from evenhand.study.model import Costs, Study
from evenhand.units import MINUS, NO_BREAK, duration_words, number, percent
from evenhand.writeup import sentences
from evenhand.writeup.model import Section, Table
from evenhand.writeup.sections.noise import size

MOST_OPEN: Final = 12
#: Further visits whose chances are printed.
SHOWN_VISITS: Final = (1, 2, 4)
#: What rounds may differ by, in margins, before a visit outside a round is warned of.
LITTLE: Final = 0.25
#: Open verdicts that reach this chance within the visits tried are printed.
HOPEFUL: Final = 0.5


def account(rehearsal: Rehearsal, study: Study) -> tuple[Section, ...]:
    """Every section that has something to say, in the order in which it should be read."""
    sections = (
        expect(rehearsal),
        _open(rehearsal, study),
        _next(rehearsal, study),
        hours_at_hand(rehearsal),
        _trust(rehearsal),
        rests(rehearsal),
    )
    return tuple(section for section in sections if section is not None)


def expect(rehearsal: Rehearsal) -> Section:
    """What the study is expected to tell."""
    leading = rehearsal.expected[0]
    tables = tuple(_chances(e, first=e is leading) for e in rehearsal.expected)
    return Section("expect", _expect_heading(rehearsal, leading), paragraphs=_expect_text(rehearsal, leading), tables=tables)


def _expect_heading(rehearsal: Rehearsal, leading: Expected) -> str:
    if not math.isfinite(leading.at_titles.simultaneous):
        return "As planned, no verdict can be given: one visit of each setup cannot be told from the setup"
    how = "Recorded once more in the same way" if rehearsal.recorded else "As planned"
    at, over = (chance(o.settled) for o in (leading.at_titles, leading.over_titles))
    return f"{how}, {at} of the verdicts at titles would settle and {over} of those over titles ({_name(leading.measure)})"


def _expect_text(rehearsal: Rehearsal, leading: Expected) -> tuple[str, ...]:
    scheme = rehearsal.scheme
    design = (
        f"{wording.counted(len(scheme.setups), 'setup')}, {wording.counted(len(scheme.titles), 'title')}, "
        f"{wording.counted(scheme.visits, 'visit')} of {wording.counted(scheme.runs, 'run')}, "
        f"{'rounds taken out' if leading.rounds else 'no rounds'}. Settled is every verdict but “open”."
    )
    supposed = wording.listed([_difference(d.share, d.margins) for d in rehearsal.supposed])
    what = (
        "The differences are supposed to be those found here, within what is known of them."
        if rehearsal.recorded
        else f"Supposed of a setup against the baseline, at a title (--suppose): {supposed}."
    )
    return (f"{design} {what}", _needed(leading))


def _difference(share: float, margins: float) -> str:
    if margins == 0:
        return f"{chance(share)} no difference"
    margin = "margin" if abs(margins) == 1 else "margins"
    return f"{chance(share)} {abs(margins):g} {margin} {'more' if margins > 0 else 'less'}"


def _needed(leading: Expected) -> str:
    needed = leading.needed
    double = f"a difference of twice the margin of {sentences.margin_words(leading.measure, leading.margin)}"
    return (
        f"For four chances in five at a title, to find {double} takes {_visits(needed.finds_double, needed)}, to call a tie "
        f"level {_visits(needed.tie_level, needed)}."
    )


def _visits(count: int | None, needed: Needed) -> str:
    return f"more than {needed.most} visits" if count is None else wording.counted(count, "visit")


def _chances(expected: Expected, first: bool) -> Table:
    rows = [("at a title", expected.at_titles), ("over titles", expected.over_titles)]
    head = (expected.measure.label, "reach", "alone", "tie", "1½ margins", "2 margins", "settled")
    caption = (
        "reach: half the usual interval, of all pairs of setups at once; alone: of one pair alone; then the chances that a tie "
        "is called level, a difference of so many margins is found, a verdict is settled"
    )
    cells = tuple(_outlook(name, expected.measure, outlook) for name, outlook in rows)
    return Table(head, cells, (False, *(True,) * 6), caption if first else "")


def _outlook(name: str, measure: Measure, outlook: Outlook) -> tuple[str, ...]:
    chances = (outlook.tie_level, outlook.finds_more, outlook.finds_double, outlook.settled)
    return (name, reach_words(measure, outlook.simultaneous), reach_words(measure, outlook.pointwise), *map(chance, chances))


def reach_words(measure: Measure, half: float) -> str:
    """`±1.3 %`: half an interval."""
    return f"±{size(measure, half)}" if math.isfinite(half) else "no bounds"


def chance(share: float) -> str:
    """A chance in whole per cent; only certainty is 0 or 100."""
    if 0 < share < 0.005:
        return f"<{NO_BREAK}1{NO_BREAK}%"
    if 0.995 <= share < 1:
        return f">{NO_BREAK}99{NO_BREAK}%"
    return percent(100.0 * share, 0)


def _name(measure: Measure) -> str:
    return measure.label[0].lower() + measure.label[1:]


def _open(rehearsal: Rehearsal, study: Study) -> Section | None:
    opened = rehearsal.opened
    if not opened:
        return None
    most = len(opened[0].chances)
    soon = sum(o.visits is not None for o in opened)
    are = "is" if len(opened) == 1 else "are"
    heading = (
        f"{wording.counted(len(opened), 'verdict')} {are} open; {soon or 'none'} would settle within {most} further visits of "
        "each setup, at four chances in five"
    )
    hopeful = [o for o in opened if max(o.chances) >= HOPEFUL]
    shown = sorted(hopeful, key=lambda o: (o.visits or most + 1, -o.chances[0]))[:MOST_OPEN]
    tables = tuple(_open_table(e.measure, [o for o in shown if o.measure == e.measure.key], study) for e in rehearsal.expected)
    items = []
    if len(hopeful) > len(shown):
        items.append(f"and {len(hopeful) - len(shown)} more with even chances: evenhand rehearse --json lists them")
    if others := len(opened) - len(hopeful):
        have, them = ("has", "it") if others == 1 else ("have", "them")
        items.append(
            f"{others} {have} less than even chances in {most} visits: quieter visits would settle {them}, not more of them"
        )
    return Section("open", heading, tables=tuple(t for t in tables if t.rows), items=tuple(items))


def _open_table(measure: Measure, opened: Sequence[OpenVerdict], study: Study) -> Table:
    head = (measure.label, "found", *(f"{n} more" for n in SHOWN_VISITS), "needed", "if it stays")
    caption = (
        f"against {_label(study, study.baseline)} unless said otherwise; chance that it is settled after 1, 2, 4 further visits; "
        "needed: visits for four chances in five; if it stays: the same if the estimate did not move, as judge says it"
    )
    return Table(head, tuple(_open_row(o, study, measure) for o in opened), (False, *(True,) * 6), caption)


def _open_row(found: OpenVerdict, study: Study, measure: Measure) -> tuple[str, ...]:
    titles = {t.name: t.label for t in study.titles}
    where = "over titles" if found.title is None else titles.get(found.title, found.title)
    whom = "" if found.against == study.baseline else f" against {_label(study, found.against)}"
    sign = MINUS if found.estimate < 0 else "+"
    return (
        f"{where}: {_label(study, found.setup)}{whom}",
        f"{sign}{size(measure, abs(found.estimate))}",
        *(chance(found.chances[n - 1]) for n in SHOWN_VISITS),
        f"over {len(found.chances)}" if found.visits is None else str(found.visits),
        "–" if found.quick is None else str(found.quick),
    )


def _label(study: Study, setup: str) -> str:
    return study.setup(setup).label


def _next(rehearsal: Rehearsal, study: Study) -> Section | None:
    found = rehearsal.next_visits
    if found is None:
        return None
    given = [f"{count} × {_label(study, name)}" for name, count in found.visits if count]
    total = sum(count for _, count in found.visits)
    heading = f"The best use of the next {wording.counted(total, 'visit')}: {sentences.named(given)}"
    text = (
        f"To tell soonest which setup is best over titles; so far it is {_label(study, found.best)}. What is near the best gets "
        "most, what is far behind least; differences below the margin count as the margin. Whole visits, all titles in each."
    )
    return Section("next", heading, paragraphs=(text, *_drift(rehearsal.expected[0])))


def _drift(leading: Expected) -> tuple[str, ...]:
    """A warning against visits outside a round where rounds differ by more than a little."""
    if not leading.rounds or leading.spreads.round < LITTLE * leading.margin:
        return ()
    return (
        f"But rounds differ by {size(leading.measure, leading.spreads.round)} here and are taken out, which needs every setup in "
        "each: a whole round is the better choice.",
    )


def hours_at_hand(rehearsal: Rehearsal) -> Section:
    """What the hours at hand can buy."""
    hours, measure = rehearsal.hours, rehearsal.expected[0].measure
    at_hand, least = _time(hours.at_hand), _time(hours.least)
    if not hours.alternatives:
        heading = f"{at_hand} are too few for one visit of each setup; two, the least that bears a verdict, take {least}"
        return Section("hours", heading, paragraphs=(_costs(hours.costs),))
    if hours.best is None:
        heading = f"{at_hand} allow one visit of each setup, which bears no verdict; two of one run take {least}"
    else:
        best = hours.alternatives[hours.best]
        heading = (
            f"In {at_hand}, {_numbers(best)} tell most: {chance(best.settled_title)} of the verdicts at titles settle, reach "
            f"{reach_words(measure, best.half_title)}"
        )
    rows = tuple(_alternative(a, measure) for a in hours.alternatives)
    head = ("visits × runs", "hours", "title reach", "over titles", "settled", "over titles")
    caption = "of each setup; reach and share of settled verdicts, at a title and over titles"
    table = Table(head, rows, (False, *(True,) * 5), caption)
    counts = rehearsal.hours.repetitions
    rule = (
        f"Most precision for the time, many visits supposed: {_runs(counts.at_title)} a visit at a title, "
        f"{_runs(counts.over_titles)} for the mean over titles (Kalibera & Jones 2013)."
    )
    whole = "What was recorded" if rehearsal.recorded else "The plan"
    planned = f"{whole} takes {_time(hours.planned)}. {_costs(hours.costs)}"
    return Section("hours", heading, paragraphs=(planned,), tables=(table,), items=(rule,))


def _numbers(found: Alternative) -> str:
    return f"{wording.counted(found.visits, 'visit')} of {wording.counted(found.runs, 'run')}"


def _alternative(found: Alternative, measure: Measure) -> tuple[str, ...]:
    name, hours = f"{found.visits} × {found.runs}", number(found.hours, 1)
    if not math.isfinite(found.half_title):
        return (name, hours, "no verdict", "no verdict", "none", "none")
    reach = (reach_words(measure, found.half_title), reach_words(measure, found.half_over))
    return (name, hours, *reach, chance(found.settled_title), chance(found.settled_over))


def _runs(wanted: float) -> str:
    """Kalibera & Jones round up."""
    if math.isinf(wanted):
        return "as many runs as you like in"
    return wording.counted(max(math.ceil(wanted - 1e-9), 1), "run")


def _time(hours: float) -> str:
    return duration_words(60.0 * round(60.0 * hours))


def _costs(costs: Costs) -> str:
    shaders = f", a title's shaders in a setup's first visit {costs.shaders:g}" if costs.shaders else ""
    return (
        f"Minutes where study.toml says nothing else of a title, scene or setup ([costs], or --minutes): to apply a setup "
        f"{costs.apply:g}, to settle {costs.settle:g}, to load a title {costs.load:g}, to warm up {costs.warm_up:g}, a scene "
        f"{costs.scene:g}, to set it back {costs.reset:g}{shaders}."
    )


def _trust(rehearsal: Rehearsal) -> Section | None:
    told = [e for e in rehearsal.expected if math.isfinite(e.at_titles.simultaneous)]
    if not told:
        return None
    text = (
        f"Of {rehearsal.studies} simulated studies of this design, how often an interval held the truth, all intervals of a "
        "title did, “ahead” was said of two setups that are the same, and “level” of two that are a margin apart. Asked for: "
        "95 %, 94 %, at most 2.5 %, at most 5 %; after ± the chance error of counting."
    )
    heading = f"Can a study like this be trusted? {_verdict(told)}"
    return Section("trust", heading, paragraphs=(text,), tables=tuple(map(_trust_table, told)))


def _trust_table(expected: Expected) -> Table:
    rows = (
        ("at a title", *_held(expected.at_titles, expected.family)),
        ("over titles", *_held(expected.over_titles, None)),
    )
    return Table((expected.measure.label, "holds", "all hold", "false ahead", "false level"), rows, (False, *(True,) * 4))


def _verdict(told: Sequence[Expected]) -> str:
    short = [f"{wording.listed(e.short)} ({_name(e.measure)})" for e in told if e.short]
    if not short:
        return "Its intervals and verdicts keep what they promise"
    return f"Not wholly: more often wrong than asked for are {wording.listed(short)}"


def _held(outlook: Outlook, family: Counted | None) -> tuple[str, ...]:
    return (
        _counted(outlook.covers),
        "" if family is None else _counted(family),
        _counted(outlook.false_ahead),
        _counted(outlook.false_level),
    )


def _counted(found: Counted) -> str:
    return f"{number(100 * found.value, 1)} ± {percent(100 * found.error, 1)}"


def rests(rehearsal: Rehearsal) -> Section:
    """The noise that all of it rests on."""
    rows = tuple(_spreads(e) for e in rehearsal.expected)
    head = ("measure", "run to run", "title's visit", "visit", "round")
    caption = "standard deviations: of one run, of a visit at one title alone, of a visit at all titles, of a round"
    table = Table(head, rows, (False, *(True,) * 4), caption)
    doubt = () if rehearsal.noisier is None else (_doubt(rehearsal.noisier),)
    sources = list(dict.fromkeys(e.spreads.source for e in rehearsal.expected))
    heading = f"The noise it rests on: {wording.listed(sources)}"
    return Section("rests", heading, tables=(table,), items=(*doubt, *rehearsal.notes))


def _doubt(noisier: float) -> str:
    return f"Were all of it half as large again, {chance(noisier)} of the verdicts at titles would settle."


def _spreads(found: Expected) -> tuple[str, ...]:
    s: Spreads = found.spreads
    parts = ((s.run, s.run_df), (s.title, s.title_df), (s.visit, s.visit_df), (s.round, None))
    return (found.measure.label, *(_spread(found.measure, value, df) for value, df in parts))


def _spread(measure: Measure, value: float, df: float | None) -> str:
    return size(measure, value) if df is None else f"{size(measure, value)} ({number(df, 0)} df)"
