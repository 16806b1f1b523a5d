"""Run all checks over the runs of a study and give each spoiled run one flag with its reasons ranked."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from evenhand.screening.catalogue import CHECKS
from evenhand.screening.checks import (
    bad_rows,
    busy_machine,
    capped,
    clock_trouble,
    drift,
    first_run,
    lone_stall,
    odd_run,
    other_content,
    same_log,
    too_short,
    wrong_setup,
)
from evenhand.screening.found import Found
from evenhand.screening.model import Flag, ScreenedRun, Screening, Weight
from evenhand.screening.survey import Survey, survey
from evenhand.study.model import RunKey

_SHOWS_THROUGH: Final = 2.0  # match that other content rarely reaches
_SHARE_OF_USUAL: Final = 0.25  # of the scene's usual match, below which little of the course is left

_FIND: Final[Mapping[str, Callable[[Survey, float], Found]]] = {
    "same-log": same_log.find,
    "bad-rows": bad_rows.find,
    "clock-trouble": clock_trouble.find,
    "too-short": too_short.find,
    "other-content": other_content.find,
    "capped": capped.find,
    "lone-stall": lone_stall.find,
    "wrong-setup": wrong_setup.find,
    "busy-machine": busy_machine.find,
    "first-run": first_run.find,
    "odd-run": odd_run.find,
    "drift": drift.find,
}


def screen(runs: Sequence[ScreenedRun], thresholds: Mapping[str, float] | None = None) -> Screening:
    """Flags of all runs, judged together. thresholds : slug -> limit in place of the catalogue's.

    A run that is spoiled in one way fails several checks (a capped run is odd too): it gets one doubtful flag, whose
    `reasons` name the others. Raises KeyError for a threshold of an unknown check.
    """
    limits = {slug: check.threshold for slug, check in CHECKS.items()}
    unknown = set(thresholds or ()) - set(limits)
    if unknown:
        raise KeyError(f"no check named {sorted(unknown)[0]!r}")
    limits.update(thresholds or {})
    if not runs:
        return Screening((), 0)
    looked_at = survey(runs)
    flags: dict[RunKey, list[Flag]] = {r.key: [] for r in runs}
    untold: list[str] = []
    for slug, find in _FIND.items():
        found = find(looked_at, limits[slug])
        untold.extend(found.untold)
        for flag in found.flags:
            flags[flag.run].append(flag)
    resolved = tuple(f for run in flags.values() for f in resolve(run))
    return Screening(resolved, len(runs), tuple(untold))


def resolve(flags: Sequence[Flag]) -> tuple[Flag, ...]:
    """One doubtful flag of one run, its reasons ranked; then the notes that it does not explain."""
    doubts = sorted((f for f in flags if f.weight is Weight.DOUBTFUL), key=_rank(flags))
    notes = tuple(f for f in flags if f.weight is Weight.NOTE)
    if not doubts:
        return notes
    first = doubts[0]
    reasons = tuple(dict.fromkeys([*(f.check for f in doubts), *(r for f in doubts for r in f.reasons)]))
    return (replace(first, reasons=reasons), *(f for f in notes if f.check not in reasons or f.covers))


def _rank(flags: Sequence[Flag]) -> Callable[[Flag], float]:
    """Order in which checks explain a run: the catalogue's, with two amendments. What does not show the scene is not merely
    short; and where the course still shows through, or is all there beside a slower stretch, something else blurs it.
    """
    slugs = list(CHECKS)
    content = next((f for f in flags if f.check == "other-content" and f.weight is Weight.DOUBTFUL), None)
    blurred = content is not None and (_shows_through(content) or any(_is_there_beside(content, f) for f in flags))

    def place(flag: Flag) -> float:
        if flag.check == "other-content" and blurred:
            return len(slugs)
        if flag.check == "too-short" and content is not None:
            return slugs.index("other-content") + 0.5
        return slugs.index(flag.check)

    return place


def _shows_through(content: Flag) -> bool:
    match, usual = content.evidence.get("match", 0.0), content.evidence.get("usual", 0.0)
    return match >= max(_SHOWS_THROUGH, _SHARE_OF_USUAL * usual)


def _is_there_beside(content: Flag, busy: Flag) -> bool:
    """Whether the run follows its scene before or after a slower stretch: half as well as is usual for a part so long."""
    usual = content.evidence.get("usual", 0.0) * math.sqrt(busy.evidence.get("beside_share", 1.0))
    return busy.evidence.get("beside", 0.0) >= max(CHECKS["other-content"].threshold, usual / 2)
