"""What is asked: the rows of a table, and what must be known beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.measures.model import Measure


@dataclass(frozen=True, slots=True)
class Row:
    """One value of one run, as `judge` takes it: in natural units (frames per second, share ...). A title without scenes leaves
    `scene` empty.
    """

    title: str
    setup: str
    visit: int
    run: int
    measure: str
    value: float
    scene: str = ""


@dataclass(frozen=True, slots=True)
class Design:
    """What `judge` must know beside the table.

    setups : names in the study's order. baseline : one of them. levels : setup -> factor -> level name (may be empty).
    factors : factor -> level names in order; the first is the reference of its contrasts.
    measures : the measures to judge, with their scale, direction and default margin. margins : measure key -> margin, overrides.
    values : factor -> level -> its number, for factors whose levels are numbers (5200 MT/s, 65 W); others are left out.
    confidence : of simultaneous intervals; inner : of the interval that "level" rests on (two one-sided tests). A look before the
    end has both from `judging.looks`.
    weights : title -> weight of its vote. rounds : True, False or None (= by design: yes where every setup has the same visits).
    """

    setups: tuple[str, ...]
    baseline: str
    measures: tuple[Measure, ...]
    levels: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    factors: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    margins: Mapping[str, float] = field(default_factory=dict)
    weights: Mapping[str, float] = field(default_factory=dict)
    confidence: float = 0.95
    rounds: bool | None = None
    inner: float = 0.90
    values: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
