"""Rows that a recorder lost, told by its own count of rows: a column that steps by one amount and somewhere by several."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from evenhand.frames.cells import Kind
from evenhand.frames.columns import parse
from evenhand.frames.evidence import Column, Meaning
from evenhand.frames.layout import Found
from evenhand.frames.roles import is_regular


def lost_rows(text: bytes, found: Found, columns: Mapping[int, Column], meaning: Meaning) -> int:
    """How many rows the log's counter passes over that are not there, not even as bad ones; 0 where nothing counts.

    columns : of the sample, all of them. Where elapsed time stands beside the durations it shows lost rows by itself, and more
    surely: then the counter is not asked.
    """
    if meaning.elapsed is not None:
        return 0
    counters = [i for i, c in columns.items() if i != meaning.column and _counts(c)]
    if not counters:
        return 0
    rows = parse(text, found, counters[:1], None, None, gaps=True)
    steps = np.diff(rows.values[counters[0]].astype(np.float64))
    usual = float(np.nanmedian(steps))
    skipped = steps[(steps > usual) & (steps % usual == 0)]
    return max(int((skipped / usual - 1).sum()) - len(rows.bad), 0)


def _counts(column: Column) -> bool:
    """Whether a column counts rows upwards."""
    return column.kind is Kind.NUMBER and column.quantum == 1.0 and is_regular(column) and float(np.median(column.steps)) > 0
