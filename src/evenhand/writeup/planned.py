"""A plan in words and tables for a terminal: how long, by when, what it will settle, in which order, what is forgotten."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime

from evenhand.planning.model import DatedVisit, Deadline, Forgotten, Plan
from evenhand.rehearsal.model import Outlook, Rehearsal, Way
from evenhand.study.model import Study
from evenhand.units import NO_BREAK, duration_words, number
from evenhand.wording import counted
from evenhand.writeup.model import Section, Table
from evenhand.writeup.rehearsed import chance, expect, hours_at_hand, reach_words, rests


@dataclass(frozen=True, slots=True)
class Planned:
    """A study as planned. kept : the plan is the book's from now on. by_then : the rehearsal of what is done by the deadline.

    ways : all titles in every visit, and in parts; None where every round fits a day.
    """

    study: Study
    plan: Plan
    kept: bool
    visits: tuple[DatedVisit, ...]
    deadline: Deadline | None
    forgotten: tuple[Forgotten, ...]
    rehearsal: Rehearsal
    by_then: Rehearsal | None
    ways: tuple[Way, Way] | None


def account(planned: Planned) -> tuple[Section, ...]:
    """Every section that has something to say, in the order in which it should be read."""
    sections = (
        _whole(planned),
        _deadline(planned),
        expect(planned.rehearsal),
        _ways(planned),
        hours_at_hand(planned.rehearsal),
        _order(planned),
        _forgotten(planned.forgotten),
        rests(planned.rehearsal),
    )
    return tuple(section for section in sections if section is not None)


def _whole(planned: Planned) -> Section:
    plan, study = planned.plan, planned.study
    days = ""
    if plan.day_minutes is not None:
        days = f" on {counted(plan.days, 'day')} of at most {minutes_words(plan.day_minutes)}"
    heading = f"{counted(len(plan.visits), 'visit')} take {minutes_words(plan.minutes)}{days}"
    parts = f", in {plan.parts} parts with visits of their own" if plan.parts > 1 else ""
    what = (
        f"{counted(len(study.setups), 'setup')} in {counted(plan.rounds, 'round')}, "
        f"{counted(len(study.titles), 'title')}{parts}; "
        f"{counted(study.protocol.runs, 'run')} of each scene in a visit. {_lengths(plan)}"
    )
    kept = (
        f"Kept in the book, order by seed {plan.seed}; evenhand next says what is to be done."
        if planned.kept
        else "Not kept: these are other numbers than the protocol's. To record so, write them into study.toml and plan again."
    )
    return Section("plan", heading, paragraphs=(what, kept), items=plan.notes)


def _lengths(plan: Plan) -> str:
    visits = sorted(v.minutes for v in plan.visits)
    rounds: dict[int, float] = {}
    for v in plan.visits:
        rounds[v.visit] = rounds.get(v.visit, 0.0) + v.minutes
    return f"A visit takes {_spread(visits[0], visits[-1])}, a round {_spread(min(rounds.values()), max(rounds.values()))}."


def _spread(low: float, high: float) -> str:
    shortest, longest = minutes_words(low), minutes_words(high)
    return shortest if shortest == longest else f"{shortest} to {longest}"


def _deadline(planned: Planned) -> Section | None:
    found, plan = planned.deadline, planned.plan
    if found is None:
        return None
    last, ends = date_words(found.last), f"{date_words(found.ends.date())}, {clock(found.ends)}"
    if found.visits == len(plan.visits):
        return Section("deadline", f"All of it is done by {last}: it ends on {ends}")
    rounds = f"{found.rounds} of {counted(plan.rounds, 'round')}" if found.rounds else "not one whole round"
    are = "is" if found.rounds < 2 else "are"
    heading = f"By {last} {rounds} {are} done ({found.visits} of {counted(len(plan.visits), 'visit')}); all would be on {ends}"
    return Section("deadline", heading, paragraphs=(_said_by_then(planned, found),))


def _said_by_then(planned: Planned, found: Deadline) -> str:
    if found.rounds < 2 or planned.by_then is None:
        return "Two visits of each setup are the least that bears a verdict: leave out titles, setups or runs, or take more days."
    then, whole = planned.by_then.expected[0], planned.rehearsal.expected[0]
    over, at = (then.over_titles, whole.over_titles), (then.at_titles, whole.at_titles)

    def reach(outlook: Outlook) -> str:
        return reach_words(then.measure, outlook.simultaneous)

    name = then.measure.label[0].lower() + then.measure.label[1:]
    return (
        f"With {counted(found.rounds, 'visit')} of each setup the {name} is known to {reach(over[0])} over titles instead of "
        f"{reach(over[1])}, to {reach(at[0])} instead of {reach(at[1])} at a title; {chance(at[0].settled)} instead of "
        f"{chance(at[1].settled)} of the verdicts at titles would settle. What else the hours until then could buy stands below."
    )


def _ways(planned: Planned) -> Section | None:
    if planned.ways is None:
        return None
    whole, split = planned.ways
    measure = planned.rehearsal.expected[0].measure
    more = (split.parts - 1) * len(planned.study.setups) * planned.study.protocol.visits
    if planned.plan.parts > 1:
        heading = f"The titles are split in {split.parts} parts, each with visits of its own"
    else:
        heading = f"A round is longer than a day; in {split.parts} parts (--parts {split.parts}) a round of each would fit one"
    text = (
        f"In parts a setup is applied {counted(split.visits, 'time')} instead of {whole.visits}: {more} visits more in all, "
        f"{minutes_words(60 * split.hours)} instead of {minutes_words(60 * whole.hours)}. But what its visits share averages "
        f"out: the reach over titles is {reach_words(measure, split.half_over)} instead of "
        f"{reach_words(measure, whole.half_over)}. "
        f"At a title, with as many visits of its own, it is {reach_words(measure, split.half_title)} instead of "
        f"{reach_words(measure, whole.half_title)}, only because the spread of visits is better known "
        f"({number(split.visit_df)} degrees of freedom instead of {number(whole.visit_df)})."
    )
    return Section("parts", heading, paragraphs=(text,))


def _order(planned: Planned) -> Section:
    study, plan = planned.study, planned.plan
    dates = plan.day_minutes is not None
    head = ("", *(("begins",) if dates else ()), "setup", "visit", *(("part",) if plan.parts > 1 else ()), "minutes")
    rows = []
    for found in planned.visits:
        v = found.visit
        label = f"{study.setup(v.setup).label}{', applied anew' if v.again else ''}"
        when = (moment(found.begins),) if dates else ()
        part = (str(v.part),) if plan.parts > 1 else ()
        rows.append((str(v.order), *when, label, str(v.visit), *part, number(math.ceil(v.minutes))))
    numeric = tuple(name not in ("begins", "setup") for name in head)
    orders = [_played(planned, visit) for visit in dict.fromkeys(v.visit.visit for v in planned.visits)]
    heading = "The order of the visits, and below that of the titles, the same under every setup"
    return Section("order", heading, tables=(Table(head, tuple(rows), numeric),), items=tuple(orders))


def _played(planned: Planned, number_of: int) -> str:
    visit = next(v for v in planned.plan.visits if v.visit == number_of)
    names = {t.name: t.label for t in planned.study.titles}
    return f"visit {number_of}: {', '.join(dict.fromkeys(names[s.title] for s in visit.scenes))}"


def _forgotten(found: tuple[Forgotten, ...]) -> Section:
    return Section("forgotten", "What it takes beside this, and people forget", items=tuple(f.sentence for f in found))


def minutes_words(minutes: float) -> str:
    """`2 h 20 min`, rounded up to whole minutes."""
    return duration_words(math.ceil(minutes - 1e-9) * 60)


def date_words(day: date) -> str:
    """`Thursday 3 December`."""
    return f"{day:%A}{NO_BREAK}{day.day}{NO_BREAK}{day:%B}"


def moment(when: datetime) -> str:
    """`Thu 3 Dec 19:00`."""
    return f"{when:%a} {when.day} {when:%b} {clock(when)}"


def clock(when: datetime) -> str:
    """`19:00`."""
    return f"{when:%H:%M}"
