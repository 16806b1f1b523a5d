"""The best use of the next hours: whole visits, and whole rounds of them where they fit.

What the present visit lacks comes first, as it costs no change of setup. Then whole rounds, so that what a round shares cancels
from every comparison; then visits that bring back what was lost. A round is broken only where not even one fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, groupby

from evenhand.planning.model import Plan, Progress, Use, VisitLeft


def best_use(plan: Plan, progress: Progress, minutes: float) -> Use:
    """What to do in so many minutes."""
    present = progress.present if progress.present is not None and progress.present.scenes else None
    left = minutes - (present.minutes if present else 0.0)
    if present is not None and left < 0:
        return Use(minutes, min(present.minutes, minutes), present, (), progress.rounds)
    planned = [v for v in progress.ahead if v.round is not None]
    chosen: list[VisitLeft] = []
    following: list[VisitLeft] = []
    for _, group in groupby(planned, key=lambda v: v.visit):
        following = list(group)
        if _minutes(following) > left:
            break
        chosen, left, following = chosen + following, left - _minutes(following), []
    for visit in (v for v in progress.ahead if v.round is None):
        if visit.minutes <= left:
            chosen, left = [*chosen, visit], left - visit.minutes
    fit = sum(total <= left for total in accumulate(v.minutes for v in following))
    if fit and not chosen and present is None:
        begun = tuple(following[:fit])
        short = _minutes(following) - minutes
        return Use(minutes, _minutes(begun), None, begun, progress.rounds, broken=True, short=short)
    return Use(minutes, minutes - left, present, tuple(chosen), _rounds(plan, progress, chosen), spare=fit)


def _minutes(visits: Sequence[VisitLeft]) -> float:
    return sum(v.minutes for v in visits)


def _rounds(plan: Plan, progress: Progress, chosen: Sequence[VisitLeft]) -> int:
    """Whole rounds, of all parts, once the present visit is finished and these are made."""
    made = {(v.setup, v.visit) for v in chosen}
    undone = [v.round for v in progress.ahead if v.round is not None and (v.setup, v.visit) not in made]
    return min(undone, default=plan.rounds + 1) - 1
