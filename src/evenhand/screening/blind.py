"""Blind mode: setups hidden behind numbers, so that nobody's expectation decides a standing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.screening.model import ScreenedRun, Screening
from evenhand.study.model import RunKey


def hide_setups(screening: Screening, runs: Sequence[ScreenedRun], seed: int) -> Screening:
    """The same screening with every setup renamed `hidden 1`, `hidden 2` … in an order that the seed draws.

    The renaming is `hidden_names` of the same runs and seed, by which a decision finds its way back.
    """
    names = hidden_names(runs, seed)

    def hide(key: RunKey) -> RunKey:
        return replace(key, setup=names.get(key.setup, key.setup))

    flags = tuple(replace(f, run=hide(f.run), covers=tuple(hide(k) for k in f.covers)) for f in screening.flags)
    untold = tuple(_hide_text(text, names) for text in screening.untold)
    return Screening(flags, screening.runs, untold)


def hidden_names(runs: Sequence[ScreenedRun], seed: int) -> dict[str, str]:
    """Setup -> the name it is hidden behind."""
    setups = sorted({r.key.setup for r in runs})
    order = np.random.default_rng(seed).permutation(len(setups))
    return {setup: f"hidden {int(place) + 1}" for setup, place in zip(setups, order, strict=True)}


def _hide_text(text: str, names: dict[str, str]) -> str:
    """Setups stand in “ ” in sentences; all are replaced at once, so that a new name is never taken for an old one."""
    pieces = text.split("“")
    out = [pieces[0]]
    for piece in pieces[1:]:
        name, closed, rest = piece.partition("”")
        out.append(f"{names.get(name, name)}{rest}" if closed else f"“{piece}")
    return "".join(out)
