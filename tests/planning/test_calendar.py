"""A plan's calendar reads back as what was planned; the form of its lines is that of RFC 5545."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, time, timedelta

from icalendar import Calendar
from planned import study

from evenhand.planning.calendar import calendar_file, dated
from evenhand.planning.plan import plan

MADE = datetime(2026, 12, 1, 10, 0, tzinfo=UTC)


def visits(weekdays=frozenset(range(7))):
    made = plan(study(titles=6, setups=3, visits=2), seed=1, day_minutes=120)
    return made, dated(made, date(2026, 12, 1), time(19, 0), weekdays)


def test_visits_follow_one_another_and_each_day_begins_at_its_hour():
    made, found = visits()
    assert [d.visit for d in found] == list(made.visits)
    for before, after in itertools.pairwise(found):
        if after.visit.day == before.visit.day:
            assert after.begins == before.ends
        else:
            assert after.begins.time() == time(19, 0)
    assert all(d.ends - d.begins == timedelta(minutes=d.visit.minutes) for d in found)


def test_only_the_days_that_were_named():
    """Mondays and Thursdays; 1 December 2026 is a Tuesday."""
    _, found = visits(frozenset({0, 3}))
    assert {d.begins.weekday() for d in found} <= {0, 3}
    assert found[0].begins.date() == date(2026, 12, 3)


def test_the_file_holds_each_visit_with_times_of_no_zone():
    _, found = visits()
    data = calendar_file(found, "Which setup, and why?", {"s1": "Setup, one; two"}, {"t1": "Night Ferry"}, MADE)
    events = list(Calendar.from_ical(data).walk("VEVENT"))
    assert len(events) == len(found)
    assert [e.decoded("dtstart") for e in events] == [d.begins for d in found]
    assert all(e.decoded("dtstart").tzinfo is None for e in events)
    assert len({str(e["uid"]) for e in events}) == len(events)
    assert any("Setup, one; two" in str(e["summary"]) for e in events)


def test_lines_are_short_and_end_as_the_standard_says():
    """RFC 5545, 3.1: lines of at most 75 octets, ended by CR and LF."""
    _, found = visits()
    data = calendar_file(found, "Q" * 300, {}, {f"t{i}": "Ü" * 60 for i in range(1, 7)}, MADE)
    lines = data.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert max(len(line) for line in lines) <= 75
    assert b"\n" not in b"".join(lines)


def test_the_same_plan_gives_the_same_file():
    _, found = visits()
    assert calendar_file(found, "q", {}, {}, MADE) == calendar_file(found, "q", {}, {}, MADE)
