"""What the options of `evenhand rehearse` mean: percentages, minutes, kinds of bench, supposed differences."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

from evenhand.errors import Problem, UsageError
from evenhand.rehearsal.model import Difference
from evenhand.rehearsal.planned import MOSTLY_LEVEL
from evenhand.rehearsal.rehearse import STUDIES, Wishes
from evenhand.rehearsal.spreads import KINDS
from evenhand.study.model import Costs
from evenhand.units import log_of_percent
from evenhand.wording import listed

_PERCENT: Final = re.compile(r"(\d+(?:\.\d+)?)\s*%?")
#: Most that shares may miss 100 % by.
_SLACK: Final = 0.1


@dataclass(frozen=True, slots=True)
class NoiseChoice:
    """The noise to suppose: a kind of bench, and what the person states of the average frame rate (percentages as typed)."""

    kind: str = "orderly"
    run: str | None = None
    visit: str | None = None
    title: str | None = None
    round: str | None = None

    def given(self) -> dict[str, float]:
        """Name of the spread -> standard deviation of the logarithm. Raises UsageError."""
        options = {"run": "--run-noise", "visit": "--visit-shift", "title": "--title-by-visit", "round": "--round-shift"}
        typed = {name: getattr(self, name) for name in options}
        return {name: log_of_percent(percent_of(text, options[name])) for name, text in typed.items() if text is not None}

    def check(self) -> None:
        """Raise UsageError where the kind is none of those known."""
        if self.kind not in KINDS:
            raise _unclear(f"{self.kind!r} is no kind of bench", "--noise", f"choose {listed(tuple(KINDS), 'or')}")


def percent_of(text: str, option: str) -> float:
    """`1 %`, `1%` or `1` -> 1.0. Raises UsageError."""
    found = _PERCENT.fullmatch(text.strip())
    if not found:
        raise _unclear(f"{text!r} is no percentage of 0 or more", option, f"write it like {option} 1%")
    return float(found[1])


def costs_of(minutes: Sequence[str], stated: Costs) -> Costs:
    """`("apply=6", "load=1.5")` -> costs, the rest as the study states them. Raises UsageError."""
    names = [f.name.replace("_", "-") for f in fields(Costs) if f.name != "disk_gb"]
    changed: dict[str, float] = {}
    for text in minutes:
        name, _, value = text.partition("=")
        amount = _number(value)
        if name.strip() not in names or amount is None or amount < 0:
            do = f"write NAME=MINUTES with one of {listed(names, 'or')}, like --minutes apply=6"
            raise _unclear(f"{text!r} states no minutes", "--minutes", do)
        changed[name.strip().replace("-", "_")] = amount
    made = replace(stated, **changed)
    if made.scene == 0:
        raise _unclear("a scene takes some time", "--minutes", "state its minutes, like --minutes scene=1")
    return made


def supposed_of(texts: Sequence[str]) -> tuple[Difference, ...]:
    """`("70%=0", "30%=-2")` -> shares of the comparisons, and differences in margins. Raises UsageError."""
    if not texts:
        return MOSTLY_LEVEL
    found = []
    for text in texts:
        share, _, size = text.partition("=")
        margins = _number(size.replace("\N{MINUS SIGN}", "-"))
        if margins is None:
            do = "write SHARE=MARGINS, like --suppose 70%=0 --suppose 30%=-2"
            raise _unclear(f"{text!r} states no difference", "--suppose", do)
        found.append(Difference(percent_of(share, "--suppose") / 100.0, margins))
    total = 100.0 * sum(d.share for d in found)
    if abs(total - 100.0) > _SLACK:
        raise _unclear(f"the shares make {total:g} %", "--suppose", "let them make 100 % together")
    return tuple(found)


def chosen(*, hours: float | None, suppose: Sequence[str], studies: int | None, seed: int, further: int | None) -> Wishes:
    """The person's wishes from the options as typed. Raises UsageError."""
    if hours is not None and not 0 < hours < math.inf:
        raise _unclear(f"{hours:g} hours are no time to record in", "--hours", "state a number above 0")
    return Wishes(hours, supposed_of(suppose), studies or STUDIES, seed, further)


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _unclear(what: str, option: str, do: str) -> UsageError:
    return UsageError(Problem("option-unclear", what, option, do))
