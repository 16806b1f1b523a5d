"""Moments and days as people write them."""

from __future__ import annotations

from datetime import datetime
from typing import Final

MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def moment(text: str) -> str:
    """An ISO 8601 moment as people write it: `5 January 2026, 14:30 UTC`; other text as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    zone = f" {at.tzname()}" if at.tzinfo else ""
    return f"{at.day} {MONTHS[at.month - 1]} {at.year}, {at:%H:%M}{zone}"


def day(text: str) -> str:
    """The day of an ISO 8601 moment: `5 January 2026`; other text as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{at.day} {MONTHS[at.month - 1]} {at.year}"
