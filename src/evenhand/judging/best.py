"""Which setups cannot be told from the best: multiple comparison with the best (Hsu 1981), at every title and over titles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis, half_width
from evenhand.judging.critical import alike_visits, others_quantiles
from evenhand.judging.model import AgainstBest, Interval
from evenhand.judging.over import title_votes
from evenhand.judging.pairs import pair_weights
from evenhand.measures.model import Better
from evenhand.stats import maxt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Place:
    """A title, or the mean over several (name None), with the setups it has. alike : these were visited alike."""

    name: str | None
    titles: tuple[int, ...]
    setups: tuple[int, ...]
    alike: bool

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Each pair of setups once."""
        return list(combinations(self.setups, 2))

    @property
    def turned(self) -> tuple[list[int], list[float]]:
        """(place in `pairs`, 1 or −1 where turned round) of each ordered pair, those of the first setup first."""
        at = {pair: i for i, pair in enumerate(self.pairs)}
        ordered = list(permutations(self.setups, 2))
        return [at[min(p), max(p)] for p in ordered], [1.0 if p[0] < p[1] else -1.0 for p in ordered]


def against_best(analysis: Analysis) -> tuple[AgainstBest, ...]:
    """Every setup against the best of the others at each title, then over those titles that have every setup (title None).

    Empty where visits and setups cannot be told apart; a title is left out where it has one setup, or where missing visits leave
    a pair of its setups without an estimate.
    """
    places = _places(analysis) if analysis.told else []
    better = 1.0 if analysis.measure.better is Better.HIGHER else -1.0
    found: list[AgainstBest] = []
    for place, (lead, half) in zip(places, _leads(analysis, places, better), strict=True):
        low, high, candidates = constrained(lead, half)
        for i, setup in enumerate(place.setups):
            ends = sorted((better * float(low[i]) + 0.0, better * float(high[i]) + 0.0))  # + 0.0: no negative zero
            found.append(
                AgainstBest(
                    measure=analysis.measure.key,
                    title=place.name,
                    setup=analysis.design.setups[setup],
                    estimate=better * float(np.delete(lead[i], i).min()),
                    interval=Interval(ends[0], ends[1], analysis.design.confidence),
                    may_be_best=bool(candidates[i]),
                )
            )
    return tuple(found)


def leads_at(analysis: Analysis, title: int | None) -> tuple[tuple[int, ...], Floats, Floats, Floats] | None:
    """(setups, lead, allowance, standard error), each table (k, k), at a title or over titles (None): how far one is ahead of
    another, the better direction positive, what that is compared with, and the error it comes from. None where nothing is told.
    """
    name = None if title is None else analysis.visits.titles[title]
    places = [p for p in (_places(analysis) if analysis.told else []) if p.name == name]
    if not places:
        return None
    setups = places[0].setups
    better = 1.0 if analysis.measure.better is Better.HIGHER else -1.0
    lead, half = _leads(analysis, places, better)[0]
    votes = np.tile(title_votes(analysis, places[0].titles), (len(setups) * (len(setups) - 1), 1))
    rows = analysis.rows(votes, pair_weights(list(permutations(setups, 2)), len(analysis.design.setups)))
    return setups, lead, half, _off_diagonal(analysis.contrasts(rows).se[0], len(setups))


def _places(analysis: Analysis) -> list[_Place]:
    cells, alike = analysis.layout.cells, alike_visits(analysis.layout)
    whole = [t for t in range(cells.shape[0]) if cells[t].sum() > 1 and _all_pairs(analysis, t)]
    places = [_Place(analysis.visits.titles[t], (t,), tuple(np.flatnonzero(cells[t]).tolist()), bool(alike[t])) for t in whole]
    every = tuple(t for t in whole if (cells[t] == cells.any(axis=0)).all())
    if len(every) > 1:
        setups = tuple(np.flatnonzero(cells.any(axis=0)).tolist())
        places.append(_Place(None, every, setups, bool(alike[list(every)].all())))
    return places


def _all_pairs(analysis: Analysis, title: int) -> bool:
    setups = np.flatnonzero(analysis.layout.cells[title]).tolist()
    weights = pair_weights([(setups[0], other) for other in setups[1:]], len(analysis.design.setups))
    return bool(analysis.estimable(weights)[title].all())


def _leads(analysis: Analysis, places: Sequence[_Place], better: float) -> list[tuple[Floats, Floats]]:
    """Per place (lead, half), each (k, k): how far setup i is ahead of j, better direction positive, and the one-sided allowance
    of i against all others. The diagonals are 0.
    """
    if not places:
        return []
    sizes = [len(place.pairs) for place in places]
    votes = np.repeat([title_votes(analysis, place.titles) for place in places], sizes, axis=0)
    pairs = [pair for place in places for pair in place.pairs]
    rows = better * analysis.rows(votes, pair_weights(pairs, len(analysis.design.setups)))
    found = analysis.contrasts(rows)
    leads = []
    for start, place in zip(np.cumsum([0, *sizes[:-1]]), places, strict=True):
        which, sign = np.array(place.turned[0]) + start, np.array(place.turned[1])
        critical = _critical(analysis, place, rows[which] * sign[:, None], found.df[0, which])
        half = half_width(found.se[0, which], critical)
        size = len(place.setups)
        leads.append((_off_diagonal(sign * found.estimate[0, which], size), _off_diagonal(half, size)))
    return leads


def _critical(analysis: Analysis, place: _Place, rows: Floats, df: Floats) -> Floats:
    """(K,): one-sided critical value of each ordered pair over all pairs with the same first setup."""
    others, confidence = len(place.setups) - 1, analysis.design.confidence
    if place.alike:
        return maxt.others_quantile(others, df, confidence)
    families = [slice(i * others, (i + 1) * others) for i in range(len(place.setups))]
    return np.concatenate([others_quantiles(analysis.layout, analysis.noise, rows[f], df[f], confidence) for f in families])


def _off_diagonal(values: Floats, size: int) -> Floats:
    """(size, size) from the values of the ordered pairs."""
    table = np.zeros((size, size))
    table[~np.eye(size, dtype=bool)] = values
    return table


def constrained(lead: Floats, half: Floats) -> tuple[Floats, Floats, Bools]:
    """(low, high, may be best), each (k,), of each setup against the best of the others.

    lead : (k, k), estimate of i less j, better direction positive. half : (k, k), the allowance of i against j at the one-sided
    critical value of i against all others. Allowances may be unlike (Hsu 1984): i may be the best unless it is behind another by
    more than its allowance; the low end is taken against those that may be the best.
    """
    size = lead.shape[0]
    off = ~np.eye(size, dtype=bool)
    high = np.maximum(np.where(off, lead + half, np.inf).min(axis=1), 0.0)
    candidates = high > 0
    against = np.where(off & candidates[None, :], lead - half.T, np.inf).min(axis=1)
    low = np.where(np.isinf(against) & (against > 0), 0.0, np.minimum(against, 0.0))
    return low, high, candidates
