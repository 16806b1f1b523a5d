"""A plan in a calendar: each visit at its time, as a file that any calendar program takes in (iCalendar, RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from icalendar import Calendar, Event

from evenhand.planning.model import Plan, PlannedVisit
from evenhand.wording import counted

#: Monday is 0, as in `datetime`.
EVERY_DAY = frozenset(range(7))


@dataclass(frozen=True, slots=True)
class DatedVisit:
    """A planned visit with its time, of no particular zone: that of the wall clock beside the bench."""

    visit: PlannedVisit
    begins: datetime
    ends: datetime


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
