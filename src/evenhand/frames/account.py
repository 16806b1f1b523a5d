"""What is said about a log that was read, and about rows that cannot be frames."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from evenhand.errors import LogError, Problem
from evenhand.frames.candidates import column_name
from evenhand.frames.evidence import Meaning
from evenhand.frames.layout import Found
from evenhand.frames.model import BadRow, Frames, Layout, Nanoseconds, Reading
from evenhand.frames.text import LABELS
from evenhand.units import number
from evenhand.wording import counted, plain

MOST_BAD: Final = 5  # shown
LOST_ONE: Final = "row is lost by the log's own counter"
LOST_MANY: Final = "rows are lost by the log's own counter"
NAMES_OF: Final = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "pipe", " ": "blanks", "": "one column"}
LABEL: Final = re.compile(r"^[#/%*\s]*([^:=]{1,60}?)\s*[:=]\s*(.{1,200})$")


def finished(
    ns: Nanoseconds,
    found: Found,
    meaning: Meaning,
    bad: tuple[BadRow, ...],
    sampled: bool,
    where: tuple[str, str] | None,
    lost: int = 0,
) -> Reading:
    """The reading of a log, with its account and the labels of its preamble."""
    frames = Frames(ns)
    return Reading(
        frames=frames,
        layout=found.layout,
        column=column_name(found.layout, meaning.column),
        role=meaning.role,
        unit=meaning.unit,
        account=_account(frames, found, meaning, len(bad), sampled, lost),
        sampled=sampled,
        bad_rows=bad,
        labels=_labels(found.layout),
        where=where,
        lost_rows=lost,
    )


def bad_rows_error(bad: Sequence[BadRow], name: str) -> LogError:
    """The first bad rows with line and column, and the way out."""
    shown = [
        Problem(
            "log-bad-row", f"{b.why}: {plain(b.text, 40)!r}" if b.text else b.why, f"{name}, line {b.line}, column {b.column}"
        )
        for b in bad[:MOST_BAD]
    ]
    more = f"; {counted(len(bad) - MOST_BAD, 'more such row')}" if len(bad) > MOST_BAD else ""
    last = replace(shown[-1], do=f"record the run again, or take it without these rows with --skip-bad-rows{more}")
    return LogError([*shown[:-1], last])


def _labels(layout: Layout) -> dict[str, str]:
    matches = (LABEL.match(line) for line in layout.preamble)
    return {plain(m.group(1).strip(), 60): plain(m.group(2).strip()) for m in matches if m}


def _account(frames: Frames, found: Found, meaning: Meaning, bad: int, sampled: bool, lost: int) -> str:
    """One line: what was understood."""
    layout = found.layout
    column = plain(column_name(layout, meaning.column), 40)
    rate = len(frames) / frames.seconds
    what = "sampled, one row a polling period: average only" if sampled else counted(len(frames), "frame")
    parts = [f"{what} in {number(frames.seconds, 2)} s (average {number(rate, 1)} a second)"]
    parts.append(f"from column {column} as {meaning.role.value} in {meaning.unit.value}")
    parts.append(f"{LABELS[layout.encoding]}, {NAMES_OF.get(layout.delimiter, layout.delimiter)}")
    extras = [
        (len(layout.preamble), "line above the rows", "lines above the rows"),
        (len(layout.footer), "line below", "lines below"),
        (bad, "bad row left out", "bad rows left out"),
        (lost, LOST_ONE, LOST_MANY),
    ]
    parts += [counted(n, one, many) for n, one, many in extras if n]
    if found.half_line:
        parts.append("the last line was cut off and is left out")
    return "; ".join(parts)
