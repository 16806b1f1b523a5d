"""What a check hands over: its flags, and what it could not tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.screening.catalogue import CHECKS
from evenhand.screening.model import Flag, Standing, Weight
from evenhand.study.model import RunKey
from evenhand.units import percent, percent_of_log


@dataclass(slots=True)
class Found:
    """Flags of one check over all runs; `untold` in sentences without setup names."""

    flags: list[Flag] = field(default_factory=list)
    untold: list[str] = field(default_factory=list)


def doubt(
    run: RunKey,
    check: str,
    sentence: str,
    evidence: Mapping[str, float],
    stretch_s: tuple[float, float] | None = None,
    also: tuple[str, ...] = (),
) -> Flag:
    """A doubtful flag. also : slugs of other checks that could explain the same, likeliest first."""
    proposes = Standing.SET_ASIDE if check == "same-log" else Standing.REDO
    reasons = (check, *also)
    return Flag(run, check, Weight.DOUBTFUL, reasons, sentence, CHECKS[check].advice, proposes, evidence, stretch_s)


def note(
    run: RunKey, check: str, sentence: str, evidence: Mapping[str, float], advice: str = "", covers: tuple[RunKey, ...] = ()
) -> Flag:
    """A note: worth knowing, proposes nothing."""
    return Flag(run, check, Weight.NOTE, (check,), sentence, advice, Standing.KEPT, evidence, None, covers)


def change_words(log_ratio: float, decimals: int = 0) -> str:
    """Size of a change in words, without its sign: log(1.12) -> `12 %`."""
    return percent(abs(percent_of_log(log_ratio)), decimals)


def pace_words(log_ratio: float) -> str:
    """A difference of log rates in words: `12 % faster`."""
    return f"{change_words(log_ratio)} {'faster' if log_ratio > 0 else 'slower'}"


def share_words(share: float, decimals: int = 0) -> str:
    """A share in words: 0.98 -> `98 %`."""
    return percent(100 * share, decimals)
