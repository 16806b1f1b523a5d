"""Setups from factors: every combination of levels, the first factor changing slowest."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import prod
from typing import Final

from evenhand.study.model import Factor, Level, Setup

#: More combinations than this are not a study that anyone could run.
MOST: Final = 1000


def combinations(factors: Sequence[Factor]) -> int:
    """How many setups all combinations are."""
    return prod(len(factor.levels) for factor in factors)


def all_setups(factors: Sequence[Factor]) -> tuple[Setup, ...]:
    """All combinations of levels: names join the levels' names by hyphens, labels the levels' labels by dots (a comma would part
    setups in a sentence).
    """
    names = [factor.name for factor in factors]
    return tuple(
        Setup("-".join(level.name for level in levels), _label(levels), {n: v.name for n, v in zip(names, levels, strict=True)})
        for levels in product(*(factor.levels for factor in factors))
    )


def default_label(name: str, levels: Sequence[Level]) -> str:
    """The label of a setup that is not given one."""
    return _label(levels) if levels else name


def _label(levels: Sequence[Level]) -> str:
    return " · ".join(level.label for level in levels)
