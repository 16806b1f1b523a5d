"""Count how often verdicts on simulated studies are right, from frames to the end, whatever was done before judging.

`judge` itself judges. As truth only shifts an estimate, every pair of setups is looked at as if the two were the same, and as if
one were ahead of the other by just the margin. Where a difference is just the margin, "ahead beyond the margin" is false exactly
as often as "ahead" is where there is none: one count serves both.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import decide
from evenhand.judging.judge import judge
from evenhand.judging.model import Comparison, Design, Interval, MeasureJudgement, OverTitles, Verdict
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Better
from evenhand.rehearsal.frame_law import AVERAGE, MEASURES, PERCENTILE
from evenhand.rehearsal.from_frames import FrameStudy, Recorded, known, record
from evenhand.rehearsal.redo import Way, counting, rows_of
from evenhand.screening.model import ScreenedRun
from evenhand.study.model import RunKey

#: Ways in which all three lows are judged; in the others the average and the percentile low.
EVERY_LOW: Final = (Way.HONEST, Way.SCREENED)
_TWO: Final = (AVERAGE, PERCENTILE)


@dataclass(frozen=True, slots=True)
class Figures:
    """Of one measure of one study, shares of comparisons (family: of titles).

    title, over : the 95 % interval of one comparison covers the truth, at a title and over titles. family : all simultaneous
    intervals of a title cover. false_ahead : the simultaneous interval lies above (below) 0 where the two are the same, mean of
    both sides. false_level : "level" where one is ahead (behind) by just the margin. width : mean half-width at titles.
    """

    title: float
    family: float
    over: float
    false_ahead: float
    false_ahead_over: float
    false_level: float
    false_level_over: float
    width: float


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of the runs. wrong : something went wrong with them at first. remain : such runs, first or anew, that count.
    needless : good ones that were recorded anew or set aside. lost : set aside.
    """

    runs: int
    wrong: int
    remain: int
    needless: int
    lost: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """One study gone one way: measure -> figures, and the runs."""

    figures: Mapping[str, Figures]
    fate: Fate


def go(kind: FrameStudy, study: int) -> dict[Way, Outcome]:
    """Record study number `study` of its kind, go every way and count."""
    recorded = record(kind, study)
    measured: dict[int, Mapping[str, float]] = {}
    found = {}
    for way in Way:
        runs = counting(recorded, way)
        chosen = tuple(CATALOGUE[m] for m in (MEASURES if way in EVERY_LOW else _TWO))
        judged = judge(rows_of(runs, measured), Design(kind.setups, kind.setups[0], chosen)).measures
        held = {m: figures(found_of, known(kind).true[m], kind) for m, found_of in judged.items()}
        found[way] = Outcome(held, _fate(recorded, runs, way))
    return found


def figures(judged: MeasureJudgement, true: Floats, kind: FrameStudy) -> Figures:
    """Hold a judged measure to the truth (T, C)."""
    titles, setups = kind.titles, kind.setups

    def truth(title: str, c: Comparison | OverTitles) -> float:
        row = true[titles.index(title)]
        return float(row[setups.index(c.setup)] - row[setups.index(c.against)])

    at = [(c, truth(c.title, c)) for c in judged.comparisons]
    shared = {(o.setup, o.against): [d for c, d in at if (c.setup, c.against) == (o.setup, o.against)] for o in judged.over}
    over = [(o, fmean(shared[o.setup, o.against])) for o in judged.over]
    inside: dict[str, bool] = {}
    for c, d in at:
        inside[c.title] = inside.get(c.title, True) and _covers(c.simultaneous, d)
    return Figures(
        title=fmean(_covers(c.pointwise, d) for c, d in at),
        family=fmean(inside.values()),
        over=fmean(abs(o.estimate - d) <= float(t_quantile(o.df_these, 0.95)) * o.se_these for o, d in over),
        false_ahead=_false_ahead((c.simultaneous, d) for c, d in at),
        false_ahead_over=_false_ahead((o.these, d) for o, d in over),
        false_level=_false_level(((c.simultaneous, c.inner, d) for c, d in at), judged.margin),
        false_level_over=_false_level(((o.these, o.inner, d) for o, d in over), judged.margin),
        width=fmean((c.pointwise.high - c.pointwise.low) / 2 for c, _ in at),
    )


def _covers(interval: Interval, truth: float) -> bool:
    return interval.low <= truth <= interval.high


def _false_ahead(intervals: Iterable[tuple[Interval, float]]) -> float:
    return fmean((i.low > d or i.high < d) / 2 for i, d in intervals)


def _false_level(intervals: Iterable[tuple[Interval, Interval, float]], margin: float) -> float:
    """Verdicts with the truth moved to the margin on either side."""
    moved = [
        decide(_shifted(wide, by), _shifted(inner, by), margin, Better.HIGHER)
        for wide, inner, d in intervals
        for by in (margin - d, -margin - d)
    ]
    return fmean(v is Verdict.LEVEL for v in moved)


def _shifted(interval: Interval, by: float) -> Interval:
    return Interval(interval.low + by, interval.high + by, interval.confidence)


def _fate(recorded: Recorded, runs: Mapping[RunKey, ScreenedRun], way: Way) -> Fate:
    first = {**recorded.honest, **recorded.wrong} if way.spoiled else recorded.honest
    wrong = {id(run) for part in (recorded.wrong, recorded.wrong_anew) for run in part.values()}
    kept = {key for key, run in runs.items() if run is first[key]}
    bad = set(recorded.wrong) if way.spoiled else set()
    return Fate(
        runs=len(first),
        wrong=len(bad),
        remain=sum(id(run) in wrong for run in runs.values()),
        needless=len(first.keys() - bad - kept),
        lost=len(first) - len(runs),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """S studies of a kind gone one way. figures : measure -> name of a figure -> (S,). fates : (S, 5), as in `Fate`."""

    figures: Mapping[str, Mapping[str, Floats]]
    fates: Floats


def gather(outcomes: Sequence[Outcome]) -> Counted:
    """Put the outcomes of many studies together."""
    names = Figures.__slots__
    return Counted(
        {m: {n: np.array([getattr(o.figures[m], n) for o in outcomes]) for n in names} for m in outcomes[0].figures},
        np.array([[getattr(o.fate, n) for n in Fate.__slots__] for o in outcomes], dtype=np.float64),
    )
