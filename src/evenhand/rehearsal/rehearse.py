"""Rehearse a study: what it can tell, what the hours can buy, and after recording what is missing. The one door of planning."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis
from evenhand.judging.model import MeasureJudgement
from evenhand.measures.model import Better, Measure
from evenhand.planning.minutes import Bill
from evenhand.rehearsal.budget import next_draws
from evenhand.rehearsal.calibration import TARGETS
from evenhand.rehearsal.count import Share
from evenhand.rehearsal.hours import offers, repetitions
from evenhand.rehearsal.model import (
    Alternative,
    Counted,
    Difference,
    Expected,
    Hours,
    NextVisits,
    OpenVerdict,
    Outlook,
    Reach,
    Rehearsal,
    Scheme,
    Spreads,
)
from evenhand.rehearsal.needed import needed, round_term
from evenhand.rehearsal.planned import MOSTLY_LEVEL, Simulations, mixed, outlooks, simulated
from evenhand.rehearsal.settling import MOST_FURTHER, open_verdicts, truths
from evenhand.rehearsal.simulate import Truth

Floats = npt.NDArray[np.float64]
Progress = Callable[[int, int, str], None]

STUDIES: Final = 2000
#: Simulated studies of each alternative, and draws of the truth after recording: enough for a chance to within 2 points.
FEWER: Final = 500
#: Before recording it is also told what would settle if all noise were so many times as large.
NOISIER: Final = 1.5
#: Shares of settled verdicts that differ by no more are taken as equal.
_ALIKE: Final = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A measure to rehearse. margin : on its scale. analysis, shown : what judging found, None before recording."""

    measure: Measure
    margin: float
    spreads: Spreads
    analysis: Analysis | None = None
    shown: MeasureJudgement | None = None


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the person may choose. hours : at hand, None = those planned. further : visits to give away, None = a round."""

    hours: float | None = None
    supposed: tuple[Difference, ...] = MOSTLY_LEVEL
    studies: int = STUDIES
    seed: int = 1
    further: int | None = None


def rehearse(scheme: Scheme, asked: Sequence[Asked], bill: Bill, wishes: Wishes, tell: Progress = lambda *_: None) -> Rehearsal:
    """Rehearse every measure asked for; the first one leads: hours and next visits are about it."""
    leading = asked[0]
    expected = [_expected(scheme, a, wishes, _part(tell, f"what to expect of {a.measure.label}")) for a in asked]
    opened: list[OpenVerdict] = []
    for a in asked:
        opened += _opened(scheme, a, wishes, _part(tell, f"what would settle {a.measure.label}"))
    return Rehearsal(
        recorded=leading.analysis is not None,
        scheme=scheme,
        studies=wishes.studies,
        seed=wishes.seed,
        supposed=wishes.supposed,
        expected=tuple(expected),
        hours=_hours(scheme, leading, bill, wishes, tell),
        opened=tuple(opened),
        next_visits=_next_visits(scheme, leading, wishes.further),
        noisier=_noisier(scheme, leading, bill, wishes),
    )


def _part(tell: Progress, what: str) -> Callable[[int, int], None]:
    return lambda done, total: tell(done, total, what)


def truth_of(scheme: Scheme, spreads: Spreads, visits: int | None = None, runs: int | None = None) -> Truth:
    """The scheme as the simulation takes it. Scenes thin out a title's run noise; their number is averaged over titles."""
    scenes = len(scheme.scenes) / sum(1.0 / n for n in scheme.scenes)
    return Truth(
        titles=len(scheme.titles),
        setups=len(scheme.setups),
        visits=visits or scheme.visits,
        runs=runs or scheme.runs,
        run_noise=spreads.run / math.sqrt(scenes),
        visit_shift=spreads.visit,
        title_shift=spreads.title,
        round_shift=spreads.round,
        unlike=spreads.unlike,
    )


def votes_of(scheme: Scheme) -> Floats:
    """(T,): the titles' votes."""
    return np.array(scheme.weights)


def _expected(scheme: Scheme, asked: Asked, wishes: Wishes, tell: Callable[[int, int], None]) -> Expected:
    truth = truth_of(scheme, asked.spreads)
    rounds = round_term(truth.setups, scheme.visits, scheme.rounds)
    if asked.analysis is not None:
        truth, rounds = _as_recorded(truth, asked.analysis), asked.analysis.layout.rounds
    votes, studies, seed = votes_of(scheme), wishes.studies, wishes.seed
    found = simulated(truth, rounds, votes, studies, seed, scheme.confidence, lambda done: tell(done, studies))
    true = _true(scheme, asked, wishes, studies)
    at_titles, over, family = outlooks(found, asked.margin, true)
    return Expected(
        measure=asked.measure,
        margin=asked.margin,
        spreads=asked.spreads,
        rounds=rounds,
        visit_df=found.layout.shift_df,
        family=family,
        at_titles=at_titles,
        over_titles=over,
        needed=needed(truth, scheme.rounds, asked.margin, scheme.confidence, seed),
        reaches=_reaches(scheme, found, true, asked.margin),
        short=_short(at_titles, over, family) if found.layout.shift_df > 0 else (),
    )


def _reaches(scheme: Scheme, found: Simulations, true: Floats, margin: float) -> tuple[Reach, ...]:
    """Each comparison, over titles first; against the baseline where it is in the pair, else against the earlier setup."""
    base = scheme.setups.index(scheme.baseline)
    both = [sorted(np.flatnonzero(w).tolist(), key=lambda c: (c == base, -c)) for w in found.pairs.weights]
    at, over = found.differences(true)
    titles = [scheme.titles[t] for t in found.pairs.at.tolist()]
    told = (
        ([None] * len(both), range(len(both)), found.over_titles, over),
        (titles, found.pairs.pair.tolist(), found.at_titles, at),
    )
    reaches: list[Reach] = []
    for where, pairs, judged, differences in told:
        halves = np.median(judged.simultaneous, axis=0), np.median(judged.pointwise, axis=0)
        settled = judged.settled(margin, differences).mean(axis=0)
        for title, pair, *figures in zip(where, pairs, *halves, settled, strict=True):
            setup, against = (scheme.setups[c] for c in both[pair])
            reaches.append(Reach(title, setup, against, *map(float, figures)))
    return tuple(reaches)


def _short(at_titles: Outlook, over: Outlook, family: Counted) -> tuple[str, ...]:
    """Labels of the calibration's targets that this design misses on the side that harms."""
    counted = {
        "title": at_titles.covers,
        "over": over.covers,
        "family": family,
        "false_ahead": at_titles.false_ahead,
        "false_ahead_over": over.false_ahead,
        "false_level": at_titles.false_level,
        "false_level_over": over.false_level,
    }
    shares = {name: Share(found.value, found.error) for name, found in counted.items()}
    return tuple(t.label for t in TARGETS if t.name in shares and t.short(shares[t.name]))


def _as_recorded(truth: Truth, analysis: Analysis) -> Truth:
    """The same with the visits that are there, gaps and all, and with setups as unlike as they are."""
    present = analysis.layout.present
    gaps = tuple((int(t), int(c), int(v)) for t, c, v in np.argwhere(~present))
    unlike = tuple(np.sqrt(analysis.noise.setups[0]).tolist())
    return replace(truth, visits=present.shape[2], absent=gaps, setup_noise=unlike)


def _true(scheme: Scheme, asked: Asked, wishes: Wishes, studies: int) -> Floats:
    """(S, T, C): true values to settle verdicts about: as found, drawn within what is known of them, or as supposed."""
    if asked.analysis is not None:
        return truths(asked.analysis, studies, np.random.default_rng([wishes.seed, 2])).cells
    shape = (studies, len(scheme.titles), len(scheme.setups))
    return asked.margin * mixed(wishes.supposed, shape, scheme.setups.index(scheme.baseline), wishes.seed)


def _opened(scheme: Scheme, asked: Asked, wishes: Wishes, tell: Callable[[int, int], None]) -> tuple[OpenVerdict, ...]:
    if asked.analysis is None or asked.shown is None or not asked.analysis.told:
        return ()
    draws = min(wishes.studies, FEWER)
    return open_verdicts(asked.analysis, asked.shown, votes_of(scheme), draws, wishes.seed, lambda done: tell(done, MOST_FURTHER))


def _hours(scheme: Scheme, leading: Asked, bill: Bill, wishes: Wishes, tell: Progress) -> Hours:
    setups = len(scheme.setups)
    planned = bill.hours(setups, scheme.visits, scheme.runs + scheme.warm_up)
    at_hand = planned if wishes.hours is None else wishes.hours
    choices = offers(bill, setups, scheme.warm_up, at_hand)
    alternatives = []
    for i, (visits, runs) in enumerate(choices):
        tell(i, len(choices), "what the hours can buy")
        alternatives.append(_alternative(scheme, leading, wishes, bill, visits, runs))
    return Hours(
        planned=planned,
        at_hand=at_hand,
        least=bill.hours(setups, 2, 1 + scheme.warm_up),
        costs=bill.costs,
        alternatives=tuple(alternatives),
        best=_best(alternatives),
        repetitions=repetitions(leading.spreads, bill, len(scheme.titles), sum(scheme.scenes)),
    )


def _noisier(scheme: Scheme, leading: Asked, bill: Bill, wishes: Wishes) -> float | None:
    """What would settle if the noise that is supposed were too small."""
    if leading.analysis is not None:
        return None
    s = leading.spreads
    larger = {name: NOISIER * getattr(s, name) for name in ("run", "title", "visit", "round")}
    asked = replace(leading, spreads=replace(s, **larger))
    return _alternative(scheme, asked, wishes, bill, scheme.visits, scheme.runs).settled_title


def _best(alternatives: Sequence[Alternative]) -> int | None:
    """The one that settles most at titles; of those that differ by no more than counting does, the narrowest interval."""
    most = max((a.settled_title for a in alternatives), default=0.0)
    bearing = [i for i, a in enumerate(alternatives) if math.isfinite(a.half_title) and a.settled_title >= most - _ALIKE]
    return min(bearing, key=lambda i: alternatives[i].half_title, default=None)


def _alternative(scheme: Scheme, leading: Asked, wishes: Wishes, bill: Bill, visits: int, runs: int) -> Alternative:
    truth = truth_of(scheme, leading.spreads, visits, runs)
    rounds = round_term(truth.setups, visits, scheme.rounds)
    studies = min(wishes.studies, FEWER)
    found = simulated(truth, rounds, votes_of(scheme), studies, wishes.seed, scheme.confidence)
    at, over, _ = outlooks(found, leading.margin, _true(scheme, leading, wishes, studies))
    return Alternative(
        visits=visits,
        runs=runs,
        hours=bill.hours(truth.setups, visits, runs + scheme.warm_up),
        half_title=at.simultaneous,
        half_over=over.simultaneous,
        settled_title=at.settled,
        settled_over=over.settled,
    )


def _next_visits(scheme: Scheme, leading: Asked, further: int | None) -> NextVisits | None:
    """Visits to the setups of which it is least clear whether they are best, over titles that have every setup."""
    analysis = leading.analysis
    if analysis is None or not analysis.told or analysis.setups < len(scheme.setups) or len(scheme.setups) < 2:
        return None
    votes = analysis.layout.cells.all(axis=1) * votes_of(scheme)
    if not votes.any():
        return None
    votes, setups = votes / votes.sum(), len(scheme.setups)
    rows = analysis.rows(np.tile(votes, (setups, 1)), np.eye(setups))
    means = (analysis.means @ rows.T)[0] * (1.0 if leading.measure.better is Better.HIGHER else -1.0)
    noise = analysis.noise
    a_visit = noise.shift[0] + noise.setups[0] * float(noise.own[0] @ votes**2)
    if not (a_visit > 0).all():
        return None
    used = np.asarray(analysis.layout.present.any(axis=0).sum(axis=1))
    given = next_draws(means, a_visit, used, setups if further is None else further, leading.margin)
    return NextVisits(
        measure=leading.measure.key,
        best=scheme.setups[int(np.argmax(means))],
        visits=tuple(zip(scheme.setups, given.tolist(), strict=True)),
    )
