"""The numbers behind a report as CSV files, at full precision, safe to open in a spreadsheet.

Text that a spreadsheet would take for a formula gets an apostrophe in front (CSV injection: OWASP). Rows end in CR LF and quotes
are doubled (RFC 4180). Differences are on the measure's scale: natural logarithms of ratios, or plain differences.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, TypeAlias

from evenhand.judging.model import Judgement
from evenhand.writeup import sentences
from evenhand.writeup.material import Material

Value: TypeAlias = str | int | float | bool | None

#: First letters by which spreadsheets know a formula.
FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

CELLS: Final = ("measure", "title", "setup", "value", "interval_low", "interval_high", "visits", "runs", "unit")
COMPARISONS: Final = (
    *("measure", "title", "setup", "against", "estimate", "se", "df", "low", "high", "pointwise_low", "pointwise_high"),
    *("inner_low", "inner_high", "margin", "scale", "verdict", "words", "stale"),
)
OVER: Final = (
    *("measure", "setup", "against", "estimate", "se_these", "df_these", "these_low", "these_high", "se_like", "df_like"),
    *("like_low", "like_high", "tau", "prediction_low", "prediction_high", "margin", "scale", "verdict", "words", "stale"),
)
ALONG: Final = ("title", "scene", "setup", "against", "unit", "from", "to", "estimate", "low", "high")
RUNS: Final = (
    "title",
    "scene",
    "setup",
    "visit",
    "run",
    "standing",
    "by",
    "why",
    "flags",
    "proven",
    "frames",
    "seconds",
    "sha256",
)


def csv_tables(material: Material) -> dict[str, str]:
    """File name -> content, for values of the cells, comparisons, over titles, and runs with all their measures.

    Write them as UTF-8 with `newline=""`.
    """
    judgement = material.judgement
    return {
        "cells.csv": csv_text(CELLS, _cells(judgement)),
        "comparisons.csv": csv_text(COMPARISONS, _comparisons(material)),
        "over-titles.csv": csv_text(OVER, _over(material)),
        **({"along.csv": csv_text(ALONG, _along(material))} if material.along else {}),
        "runs.csv": _runs(material),
    }


def csv_text(head: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    """A CSV table. Numbers are written as Python reads them back equal, missing ones as empty cells."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([neutral(h) for h in head])
    writer.writerows([_cell(v) for v in row] for row in rows)
    return text.getvalue()


def neutral(text: str) -> str:
    """`text` as no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip(" \u00a0").startswith(FORMULA_STARTS) else text


def _cell(value: Value) -> str:
    if isinstance(value, str):
        return neutral(value)
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(float(value)) if isinstance(value, float) else str(value)


def _cells(judgement: Judgement) -> Iterable[Sequence[Value]]:
    for m in judgement.measures.values():
        for c in m.cells:
            yield (c.measure, c.title, c.setup, c.value, c.interval_low, c.interval_high, c.visits, c.runs, m.measure.unit)


def _comparisons(material: Material) -> Iterable[Sequence[Value]]:
    for m in material.judgement.measures.values():
        for c in m.comparisons:
            ends = (c.simultaneous.low, c.simultaneous.high, c.pointwise.low, c.pointwise.high, c.inner.low, c.inner.high)
            words = sentences.phrase(c, m.measure)
            yield (c.measure, c.title, c.setup, c.against, c.estimate, c.se, c.df, *ends, c.margin, m.measure.scale.value,
                   c.verdict.value, words, material.proof.straddles(c.setup, c.against, c.title))  # fmt: skip


def _over(material: Material) -> Iterable[Sequence[Value]]:
    for m in material.judgement.measures.values():
        for o in m.over:
            like = (o.like.low, o.like.high) if o.like else (None, None)
            prediction = (o.prediction.low, o.prediction.high) if o.prediction else (None, None)
            numbers = (
                o.estimate,
                o.se_these,
                o.df_these,
                o.these.low,
                o.these.high,
                o.se_like,
                o.df_like,
                *like,
                o.tau,
                *prediction,
            )
            words = sentences.phrase(o, m.measure)
            stale = material.proof.straddles(o.setup, o.against)
            yield (o.measure, o.setup, o.against, *numbers, o.margin, m.measure.scale.value, o.verdict.value, words, stale)


def _along(material: Material) -> Iterable[Sequence[Value]]:
    for found in material.along.values():
        for a in found:
            for k, value in enumerate(a.estimate):
                place = (a.title, a.scene, a.setup, a.against, a.unit, a.edges[k], a.edges[k + 1])
                yield (*place, value, *(end if math.isfinite(end) else None for end in (a.low[k], a.high[k])))


def _runs(material: Material) -> str:
    measures = list(dict.fromkeys(key for r in material.runs for key in r.values))
    rows: list[Sequence[Value]] = []
    for r in material.runs:
        k = r.key
        flags = " ".join(dict.fromkeys(f.check for f in r.flags))
        own: Mapping[str, float] = r.values
        standing = "warm-up" if r.warm_up else r.standing.value
        address = (k.title, k.scene, k.setup, k.visit, k.run)
        rows.append(
            (*address, standing, r.by, r.why, flags, r.proven, r.frames, r.seconds, r.sha256, *(own.get(m) for m in measures))
        )
    return csv_text((*RUNS, *measures), rows)
