"""A plan in a calendar: each visit at its time, what is done by a day, and a file that calendar programs take (RFC 5545)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta

from icalendar import Calendar, Event

from evenhand.planning.model import DatedVisit, Deadline, Plan
from evenhand.wording import counted

#: Monday is 0, as in `datetime`.
EVERY_DAY = frozenset(range(7))


def dated(plan: Plan, first: date, begins: time, weekdays: frozenset[int] = EVERY_DAY) -> tuple[DatedVisit, ...]:
    """Give every visit its time: its day of bench work on the next of `weekdays`, one after the other from `begins` on."""
    days = _days(first, weekdays or EVERY_DAY)
    when: dict[int, datetime] = {}
    found = []
    for visit in plan.visits:
        if visit.day not in when:
            when[visit.day] = datetime.combine(next(days), begins)
        start = when[visit.day]
        when[visit.day] = start + timedelta(minutes=visit.minutes)
        found.append(DatedVisit(visit, start, when[visit.day]))
    return tuple(found)


def by_deadline(visits: tuple[DatedVisit, ...], plan: Plan, first: date, last: date, weekdays: frozenset[int]) -> Deadline:
    """What is done by the end of the day `last`, where bench work begins on `first`."""
    in_time = [v.visit for v in visits if v.ends.date() <= last]
    late = {v.visit.round for v in visits if v.ends.date() > last}
    days = sum(1 for _ in itertools.takewhile(lambda day: day <= last, _days(first, weekdays or EVERY_DAY)))
    minutes = days * (plan.day_minutes or 0.0)
    return Deadline(last, len(in_time), min(late, default=plan.rounds + 1) - 1, minutes, visits[-1].ends)


def _days(first: date, weekdays: frozenset[int]) -> Iterator[date]:
    day = first
    while True:
        if day.weekday() in weekdays:
            yield day
        day += timedelta(days=1)


def calendar_file(
    visits: tuple[DatedVisit, ...], question: str, labels: Mapping[str, str], titles: Mapping[str, str], made_at: datetime
) -> bytes:
    """The calendar's bytes. labels : setup -> label. titles : title -> label. made_at : with a time zone."""
    calendar = Calendar()
    calendar.add("prodid", "-//Evenhand//plan//EN")
    calendar.add("version", "2.0")
    for dated_visit in visits:
        visit = dated_visit.visit
        names = list(dict.fromkeys(titles.get(s.title, s.title) for s in visit.scenes))
        event = Event()
        event.add("uid", f"{visit.order}-{visit.setup}-v{visit.visit}@{_mark(question)}.evenhand")
        event.add("dtstamp", made_at)
        event.add("dtstart", dated_visit.begins)
        event.add("dtend", dated_visit.ends)
        event.add("summary", f"Bench: {labels.get(visit.setup, visit.setup)}, visit {visit.visit}")
        event.add("description", f"{question}\nRound {visit.round}, {counted(len(names), 'title')}: {', '.join(names)}")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _mark(question: str) -> str:
    """Letters and digits of the question, so that two studies' visits stay apart in one calendar."""
    return "".join(c for c in question.lower() if c.isascii() and c.isalnum())[:32] or "study"
