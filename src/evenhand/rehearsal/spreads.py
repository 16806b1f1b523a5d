"""The noise that a rehearsal supposes: learned from judged studies, or of a named kind, or stated by the person."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean
from typing import Any, Final

from evenhand.judging.model import Judgement, MeasureJudgement
from evenhand.rehearsal.hours import unbiased_parts
from evenhand.rehearsal.model import Spreads
from evenhand.rehearsal.planned import unlike_titles

_ORDERLY: Final = "a bench in good order, as in the invented example; supposed, not measured"
_NOISY: Final = "the measured example, recorded on a noisy shared machine"

#: Kind of bench -> measure -> its noise: what the invented example was made with (its lows have more of their own from run to
#: run), and, rounded, what judging finds in the measured one. A test holds both.
KINDS: Final[Mapping[str, Mapping[str, Spreads]]] = {
    "orderly": {
        "average": Spreads(0.006, 0.004, 0.005, 0.0, _ORDERLY),
        "low1_percentile": Spreads(0.014, 0.004, 0.005, 0.0, _ORDERLY),
        "low1_tail_mean": Spreads(0.016, 0.004, 0.005, 0.0, _ORDERLY),
        "low1_time_share": Spreads(0.018, 0.004, 0.005, 0.0, _ORDERLY),
    },
    "noisy": {
        "average": Spreads(0.10, 0.0, 0.04, 0.10, _NOISY),
        "low1_percentile": Spreads(0.18, 0.0, 0.07, 0.15, _NOISY),
        "low1_tail_mean": Spreads(0.21, 0.0, 0.09, 0.18, _NOISY),
        "low1_time_share": Spreads(0.20, 0.0, 0.10, 0.18, _NOISY),
    },
}


@dataclass(frozen=True, slots=True)
class _Parts:
    """Variances of one book, not below 0 save `title`, with their degrees of freedom; run None where no visit has two runs."""

    run: float | None
    run_df: float
    title: float
    title_df: float
    visit: float
    visit_df: float
    round: float | None
    unlike: float


def learned(books: Sequence[Judgement], measure: str, source: str) -> Spreads | None:
    """The noise of one measure, pooled over judged books by degrees of freedom; None where none of them can tell it."""
    parts = [p for p in (_parts(book, measure) for book in books) if p is not None]
    if not parts:
        return None
    with_runs = [p for p in parts if p.run is not None]
    used = with_runs or parts
    rounds = [p.round for p in parts if p.round is not None]
    run = _pooled([(p.run or 0.0, p.run_df) for p in used])
    title = _pooled([(p.title, p.title_df) for p in used])
    return Spreads(
        run=math.sqrt(run),
        title=math.sqrt(max(title, 0.0)),
        visit=math.sqrt(_pooled([(p.visit, p.visit_df) for p in parts])),
        round=math.sqrt(fmean(rounds)) if rounds else 0.0,
        source=source,
        unlike=fmean(p.unlike for p in used),
        run_df=sum(p.run_df for p in used),
        title_df=sum(p.title_df for p in used),
        visit_df=sum(p.visit_df for p in parts),
        loose=not with_runs,
    )


def _pooled(values: Sequence[tuple[float, float]]) -> float:
    """Mean of variances weighted by their degrees of freedom."""
    total = sum(df for _, df in values)
    return sum(value * df for value, df in values) / total if total > 0 else 0.0


def _parts(book: Judgement, measure: str) -> _Parts | None:
    judged = book.measures.get(measure)
    if judged is None or (shift := judged.noise.shift) is None:
        return None
    noise = judged.noise
    other = book.other_rounds.get(measure) if book.other_rounds else None
    run = None if noise.run is None else noise.run**2
    return _Parts(
        run=run,
        run_df=noise.run_df,
        title=_title_part(judged, run or 0.0),
        title_df=sum(noise.title_df.values()),
        visit=shift**2,
        visit_df=noise.shift_df,
        round=_round_part(judged, other),
        unlike=unlike_titles(noise.prior_df),
    )


def _title_part(judged: MeasureJudgement, run: float) -> float:
    """What a title's own visit means vary beyond their runs: the second level of Kalibera & Jones, pooled over titles."""
    noise = judged.noise
    harmonic = {
        title: 1.0 / fmean(1.0 / n for c in judged.cells if c.title == title for n in c.visit_runs) for title in noise.title
    }
    parts = [(unbiased_parts((run, own**2), (harmonic[t],))[1], noise.title_df[t]) for t, own in noise.title.items()]
    return _pooled(parts)


def _round_part(judged: MeasureJudgement, other: MeasureJudgement | None) -> float | None:
    """What the visits of a round share: how much more visits vary where rounds are left in. None where both are not known."""
    if other is None or other.noise.shift is None or judged.noise.shift is None:
        return None
    with_rounds, without = (judged, other) if judged.rounds_used else (other, judged)
    return max((without.noise.shift or 0.0) ** 2 - (with_rounds.noise.shift or 0.0) ** 2, 0.0)


def stated(kind: Spreads, average: Spreads, given: Mapping[str, float]) -> Spreads:
    """A kind of bench with what the person states of the average frame rate (name of the spread -> standard deviation).

    Of other measures that part is taken as many times as large as it is in the kind; the same size where the kind has none.
    """
    if not given:
        return kind
    changed: dict[str, Any] = {"source": f"as stated{'' if len(given) == 4 else f'; the rest: {kind.source}'}"}
    for name, value in given.items():
        own, reference = getattr(kind, name), getattr(average, name)
        changed[name] = value * own / reference if reference > 0 and own > 0 else value
    return replace(kind, **changed)
