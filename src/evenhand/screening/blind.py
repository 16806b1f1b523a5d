"""Blind mode: setups hidden behind numbers, so that nobody's expectation decides a standing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from evenhand.screening.model import ScreenedRun, Screening
from evenhand.study.model import RunKey
from evenhand.wording import counted


def hide_setups(screening: Screening, runs: Sequence[ScreenedRun], seed: int) -> Screening:
    """The same screening with the setups of `runs` renamed `hidden 1`, `hidden 2` … in an order that the seed draws."""
    return hide(screening, hidden_names({r.key.setup for r in runs}, seed))


def hide(screening: Screening, names: Mapping[str, str]) -> Screening:
    """The same screening under other names of setups, in the order of these: the study's order would give them away.

    What could not be told about setups by their names (in “ ”) is left out, for the same reason.
    """
    flags = [
        replace(f, run=hidden_key(f.run, names), covers=tuple(sorted(hidden_key(k, names) for k in f.covers)))
        for f in screening.flags
    ]
    untold = [text for text in screening.untold if "“" not in text]
    left_out = len(screening.untold) - len(untold)
    if left_out:
        untold.append(f"{counted(left_out, 'remark')} that would name setups left out while they are hidden.")
    return Screening(tuple(sorted(flags, key=lambda f: f.run)), screening.runs, tuple(untold))


def hidden_key(key: RunKey, names: Mapping[str, str]) -> RunKey:
    """A run under the name that its setup is hidden behind."""
    return replace(key, setup=names.get(key.setup, key.setup))


def hidden_names(setups: Iterable[str], seed: int) -> dict[str, str]:
    """Setup -> the name it is hidden behind."""
    known = sorted(set(setups))
    order = np.random.default_rng(seed).permutation(len(known))
    return {setup: f"hidden {int(place) + 1}" for setup, place in zip(known, order, strict=True)}
