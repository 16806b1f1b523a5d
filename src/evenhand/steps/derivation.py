"""A derivation as it is written down: steps in parts, each with its formula, the numbers put in, and what comes out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from evenhand.steps.documents import Step
from evenhand.units import MINUS
from evenhand.writeup.model import Section, Table

#: Longest sum that is written out; the terms of a longer one stand in the lines above it.
MOST_TERMS = 48


@dataclass(slots=True)
class Derivation:
    """Steps in the order in which they are made. grids : part -> its numbers as a table for people instead of lines."""

    steps: list[Step] = field(default_factory=list)
    grids: dict[str, Table] = field(default_factory=dict)
    part: str = ""

    def begin(self, part: str, grid: Table | None = None) -> None:
        """Begin a part; what follows belongs to it."""
        self.part = part
        if grid:
            self.grids[part] = grid

    def say(self, what: str, formula: str, value: str) -> None:
        """A step in words."""
        self.steps.append(Step(what, formula, value, self.part))

    def add(self, what: str, formula: str, number: float, put_in: str = "", unit: str = "") -> float:
        """A step with a number; returns the number."""
        self.steps.append(Step(what, formula, f"{figure(number)} {unit}".rstrip(), self.part, put_in, number))
        return number

    def sections(self) -> tuple[Section, ...]:
        """The derivation for people, a section a part: a line a step, steps of one formula in one line, grids as tables."""
        parts: dict[str, list[Step]] = {}
        for step in self.steps:
            parts.setdefault(step.part, []).append(step)
        made = []
        for number, (part, steps) in enumerate(parts.items(), start=1):
            grid = self.grids.get(part)
            items = () if grid else tuple(_line(list(same)) for _, same in groupby(steps, key=lambda s: s.formula))
            made.append(Section(f"part-{number}", _upper(part), tables=(grid,) if grid else (), items=items))
        return tuple(made)


def _line(steps: Sequence[Step]) -> str:
    """`s²_Z (sum of Z² / f_Z): (…) / 6 = 0.0019`; of several steps `Mean of 2 runs: A, visit 1 = … = 5.1; A, visit 2 = …`."""
    formula = steps[0].formula
    if len(steps) == 1:
        return f"{steps[0].what} ({formula}): {_sum(steps[0])}"
    return f"{_upper(formula)}: {'; '.join(f'{s.what} = {_sum(s)}' for s in steps)}"


def _sum(step: Step) -> str:
    worth = step.put_in and step.put_in != step.value
    return f"{step.put_in} = {step.value}" if worth else step.value


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def figure(value: float) -> str:
    """A number with six significant digits: enough to go on calculating with."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else f"{MINUS}∞"
    return f"{value:.6g}".replace("-", MINUS)


def signed(value: float) -> str:
    """A number as it stands in a sum: a negative one in brackets."""
    return f"({figure(value)})" if value < 0 else figure(value)


def total(terms: Iterable[str]) -> str:
    """`a + b + c`; empty where there are too many to be written out."""
    written = list(terms)
    return " + ".join(written) if 0 < len(written) <= MOST_TERMS else ""


def mean(terms: Sequence[str]) -> str:
    """`(a + b + c) / 3`; a single one as it is."""
    if len(terms) == 1:
        return terms[0]
    summed = total(terms)
    return f"({summed}) / {len(terms)}" if summed else ""
