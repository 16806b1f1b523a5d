"""Which titles to keep for the next study: the best k of them, and what that choice is worth where it was not made.

>>> from evenhand.judging.advice.thinning import thin
>>> thin(table, judgement, ("average", "low1_percentile"), keep=(4, 8)).choices[0].kept         # doctest: +SKIP
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.choosing import Worth, best_choice, random_choices, worth_of
from evenhand.judging.advice.subsets import Field, Halves, against_baseline, field_of, halves_over, only_visits, verdicts_over
from evenhand.judging.analysis import analyse
from evenhand.judging.groups import response_groups
from evenhand.judging.model import Judgement, OnTitles, OnVisits, Response, Thinned, Thinning
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: How many titles to keep where nobody says.
KEEP = (4, 6, 8, 12, 20)
#: Random choices that a choice is held against.
RANDOM = 500
#: Parts that titles are left out in.
TITLE_FOLDS = 5
LEAST_TITLES = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Fold:
    """What is known without some visits, and what those visits say."""

    worth: Worth
    tested: tuple[Field, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """What choices (B, T) say about visits or titles left out, each (B,): squared error in margins, share of verdicts over
    titles that are those of all titles, whether the same setup comes first.
    """

    squared: Floats
    verdicts: Floats
    first: Floats


def thin(
    table: object,
    judgement: Judgement,
    measures: Sequence[str],
    keep: Sequence[int] = KEEP,
    seed: int = 0,
) -> Thinning:
    """The best choice of each size in `keep` below the number of titles, by what `measures` say over titles.

    table : as `judge` takes it; judgement : its judgement. The first measure names the setup that comes first, and the first two
    the response groups; a measure that was not judged is left out. seed : of the random choices and the titles left out; the
    same seed gives the same answer. About a second for 40 titles, 4 setups and 3 visits. Raises what `judge` raises of a table.
    """
    runs, design = read_runs(table, judgement.design), judgement.design
    judged = [judgement.measures[key] for key in measures if key in judgement.measures]
    analyses = [analyse(visit_means(runs, m.measure, design), design, m.rounds_used) for m in judged]
    fields = tuple(field_of(a) for a in analyses)
    if not fields or len(runs.titles) < LEAST_TITLES:
        return Thinning(tuple(m.measure.key for m in judged), runs.titles, (), 0, 0)
    groups = _membership(judgement, runs.titles, measures)
    folds = _visit_folds(fields, groups)
    sizes = sorted({k for k in keep if 0 < k < len(runs.titles)})
    return Thinning(
        measures=tuple(m.measure.key for m in judged),
        titles=runs.titles,
        choices=tuple(_thinned(fields, worth_of(fields, fields, groups), folds, k, seed) for k in sizes),
        visits_left_out=len(folds),
        setup_visits=int(np.any([a.layout.present for a in analyses], axis=(0, 1)).sum()),
    )


def _membership(judgement: Judgement, titles: Sequence[str], measures: Sequence[str]) -> Bools:
    """(T, G): which title is in which response group; groups that are open are none."""
    found = response_groups(judgement, measures[0], measures[1] if len(measures) > 1 else None)
    answered = [set(g.titles) for g in found if g.kind is not Response.OPEN]
    return np.array([[name in group for group in answered] for name in titles], dtype=bool).reshape(len(titles), len(answered))


def _visit_folds(fields: Sequence[Field], groups: Bools) -> list[_Fold]:
    """One for each visit that leaves every setup another: what the rest says, and what this visit says."""
    present = np.any([f.analysis.layout.present for f in fields], axis=(0, 1))
    folds = []
    for visit in range(present.shape[1]):
        rest = np.arange(present.shape[1]) != visit
        if present[:, visit].sum() < 2 or (present.any(axis=1) & ~present[:, rest].any(axis=1)).any():
            continue
        seen = [field_of(only_visits(f.analysis, rest)) for f in fields]
        tested = tuple(field_of(only_visits(f.analysis, ~rest)) for f in fields)
        folds.append(_Fold(worth_of(fields, seen, groups), tested))
    return folds


def _thinned(fields: Sequence[Field], worth: Worth, folds: Sequence[_Fold], keep: int, seed: int) -> Thinned:
    every = np.ones(worth.weights.size, dtype=bool)
    chosen, exact = best_choice(worth, keep, every, seed)
    return Thinned(
        kept=tuple(name for name, kept in zip(fields[0].analysis.visits.titles, chosen, strict=True) if kept),
        exact=exact,
        expected_error=math.sqrt(float(worth.squared(chosen[None]).mean())),
        wider=_wider(fields, chosen),
        groups_missing=int(worth.absent(chosen[None]).sum()),
        on_visits=_on_visits(fields, chosen, folds, seed) if folds else None,
        on_titles=_on_titles(fields, worth, keep, seed),
    )


def _wider(fields: Sequence[Field], chosen: Bools) -> float | None:
    every = np.ones_like(chosen)
    found = [halves_over(f, np.array([chosen, every]), p).these for f in fields for p in against_baseline(f)]
    ratios = [float(few / whole) for few, whole in found if 0 < whole < np.inf]
    return max(ratios, default=None)


def _on_visits(fields: Sequence[Field], chosen: Bools, folds: Sequence[_Fold], seed: int) -> OnVisits:
    keep, every = int(chosen.sum()), np.ones_like(chosen)
    drawn = random_choices(np.random.default_rng([seed, keep, 1]), RANDOM, keep, every)
    own = [best_choice(fold.worth, keep, every, seed)[0] for fold in folds]
    tried = np.concatenate([np.array(own), drawn, every[None]])
    halves = [[halves_over(f, tried, p) for p in against_baseline(f)] for f in fields]
    told = [_told(fields, fold.tested, tried, halves) for fold in folds]
    mine = [(t.squared[i], t.verdicts[i], t.first[i]) for i, t in enumerate(told)]
    squared, verdicts, first = (float(np.mean(values)) for values in zip(*mine, strict=True))
    random = slice(len(folds), -1)
    of_random = np.mean([t.squared[random] for t in told], axis=0)
    return OnVisits(
        error=math.sqrt(squared),
        verdicts=verdicts,
        first=first,
        again=float(np.mean([(chosen & other).sum() / keep for other in own])),
        random_error=math.sqrt(float(of_random.mean())),
        random_verdicts=float(np.mean([t.verdicts[random] for t in told])),
        random_first=float(np.mean([t.first[random] for t in told])),
        better_than=float((of_random > squared).mean()),
    )


def _told(fields: Sequence[Field], tested: Sequence[Field], tried: Bools, halves: Sequence[Sequence[Halves]]) -> _Told:
    """What each of `tried` says on the tested visits against what all titles, its last row, say there. Half-widths are those of
    the whole study: a few visits alone bear no interval.
    """
    squared, same, first = [], [], np.zeros(0)
    for i, (whole, field) in enumerate(zip(fields, tested, strict=True)):
        said = field.over(tried)
        stated = ~np.isnan(said[-1])
        missed = np.where(np.isnan(said), 0.0, said) - said[-1]
        squared.append((missed[:, stated] / whole.unit) ** 2)
        against = against_baseline(field)
        for p, half in zip(against, halves[i], strict=True):
            if stated[p]:
                codes = verdicts_over(whole, np.nan_to_num(said[:, p]), half)
                same.append((codes == codes[-1]) & ~np.isnan(said[:, p]))
        if i == 0:
            better = 1.0 if field.analysis.measure.better is Better.HIGHER else -1.0
            gains = np.nan_to_num(better * said[:, against], nan=-np.inf)
            leader = np.argmax(np.concatenate([np.zeros((len(gains), 1)), gains], axis=1), axis=1)
            first = (leader == leader[-1]).astype(np.float64)
    return _Told(np.concatenate(squared, axis=1).mean(axis=1), np.mean(same, axis=0), first)


def _on_titles(fields: Sequence[Field], worth: Worth, keep: int, seed: int) -> OnTitles | None:
    """Titles left out in up to five parts, drawn by the seed; None where too few are left to choose from."""
    titles = worth.weights.size
    order = np.random.default_rng([seed, 2]).permutation(titles)
    parts = np.array_split(order, min(TITLE_FOLDS, titles))
    if titles - max(p.size for p in parts) <= keep:
        return None
    errors = []
    for part in parts:
        among = np.ones(titles, dtype=bool)
        among[part] = False
        own = best_choice(_within(worth, among), keep, among, seed)[0]
        drawn = random_choices(np.random.default_rng([seed, keep, 3]), RANDOM, keep, among)
        missed = _missed(fields, np.concatenate([own[None], among[None], drawn]), ~among)
        errors.append((missed[0], missed[1], missed[2:].mean()))
    error, whole, random = (math.sqrt(float(np.mean(e))) for e in zip(*errors, strict=True))
    return OnTitles(error, random, whole)


def _within(worth: Worth, among: Bools) -> Worth:
    """The same worth where only the titles `among` are to be stood for."""
    there = among[:, None]
    groups = worth.groups[:, worth.groups[among].any(axis=0)] & there
    return replace(worth, has=worth.has & there, groups=groups)


def _missed(fields: Sequence[Field], tried: Bools, left: Bools) -> Floats:
    """(B,): mean squared distance, in margins, of each choice from the titles `left`."""
    found = []
    for field in fields:
        target = field.over(left[None])[0]
        stated = ~np.isnan(target)
        said = np.nan_to_num(field.over(tried))
        found.append(((said - target)[:, stated] / field.unit) ** 2)
    return np.asarray(np.concatenate(found, axis=1).mean(axis=1))
