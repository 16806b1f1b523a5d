"""What the options of `evenhand plan` mean: days, hours, dates."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, time
from typing import Final

from evenhand.errors import Problem, UsageError
from evenhand.planning.calendar import EVERY_DAY

_DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True, slots=True)
class Numbers:
    """Numbers to plan with where they are not those of study.toml or of the plan before. runs : counted, in a visit."""

    seed: int | None = None
    hours_a_day: float | None = None
    parts: int | None = None
    visits: int | None = None
    runs: int | None = None

    @property
    def tries(self) -> bool:
        """Whether another study than the protocol's is tried out, so that its plan is not to be kept."""
        return self.visits is not None or self.runs is not None

    def check(self) -> None:
        """Raises UsageError."""
        if self.hours_a_day is not None and not 0 < self.hours_a_day <= 24:
            raise _unclear(f"a day of {self.hours_a_day:g} hours of bench work there is not", "--hours-a-day", "state 0.5 to 24")


@dataclass(frozen=True, slots=True)
class Dates:
    """When bench work begins, and on which days; deadline : the last day, that day included."""

    start: date
    begin: time
    on: frozenset[int] = EVERY_DAY
    deadline: date | None = None


def dates_of(start: str | None, begin: str, on: str | None, deadline: str | None, today: date | None = None) -> Dates:
    """The dates as typed; without a first day, today. Raises UsageError."""
    first = today or date.today() if start is None else _date(start, "--start")
    last = None if deadline is None else _date(deadline, "--deadline")
    if last is not None and last < first:
        raise _unclear(f"{last} is before {first}, when bench work begins", "--deadline", "state a later day, or --start")
    return Dates(first, _time(begin), EVERY_DAY if on is None else _weekdays(on), last)


def _date(text: str, option: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise _unclear(f"{text!r} is no date", option, f"write year-month-day, like {option} 2026-12-24") from None


def _time(text: str) -> time:
    found = re.fullmatch(r"(\d{1,2})[:.](\d{2})", text.strip())
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        raise _unclear(f"{text!r} is no time of day", "--begin", "write hours and minutes, like --begin 19:00")
    return time(int(found[1]), int(found[2]))


def _weekdays(text: str) -> frozenset[int]:
    found = set()
    for word in re.findall(r"[^\s,;]+", text.lower()):
        days = [i for i, day in enumerate(_DAYS) if len(word) >= 2 and day.startswith(word)]
        if len(days) != 1:
            raise _unclear(f"{word!r} is no day of the week", "--on", 'write them like --on "mon tue fri"')
        found.add(days[0])
    return frozenset(found) or EVERY_DAY


def hours_left_of(hours: float) -> float:
    """Minutes. Raises UsageError."""
    if not 0 < hours < math.inf:
        raise _unclear(f"{hours:g} hours are no time to record in", "--hours-left", "state a number above 0")
    return 60.0 * hours


def _unclear(what: str, option: str, do: str) -> UsageError:
    return UsageError(Problem("option-unclear", what, option, do))
