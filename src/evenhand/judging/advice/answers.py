"""Answers for any choice of titles, many at once: the verdict of a pair of setups over titles, and the setup recommended."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.decision import UNTOLD, decide_setup
from evenhand.judging.advice.model import Preferences, Recommendation
from evenhand.judging.advice.recommend import saves_power
from evenhand.judging.advice.subsets import Field, Halves, against_baseline, halves_over, verdicts_over
from evenhand.judging.decide import BEHIND
from evenhand.judging.model import Judgement
from evenhand.judging.pairs import pairs_of
from evenhand.measures.model import Better

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]
#: From how often each title counts (B, T), 0 = left out, to a code of the answer (B,).
Answer = Callable[[Floats], Ints]

#: Sets of titles to leave out, up to this size, are all looked at.
ALL_UP_TO = 3
#: From as many sets on, only those are worked out whose verdict a slightly wider or narrower interval could change.
MANY = 1500
#: Half-widths that change by more than this (as a logarithm) when one title is left out are all worked out; where they change by
#: less, three titles together change them by less than `WIDEST` times as much.
STEADY, WIDEST = 0.05, 4.5


def without(titles: int, left_out: Sequence[Sequence[int]] | Ints) -> Floats:
    """(B, T): every title once but those left out; rows of indices (B, k)."""
    kept = np.ones((len(left_out), titles))
    np.put_along_axis(kept, np.asarray(left_out, dtype=np.intp), 0.0, axis=1)
    return kept


def remembered(answer: Answer) -> Answer:
    """The same answer, worked out once for each table of counts that is asked twice."""
    known: dict[bytes, Ints] = {}

    def again(kept: Floats) -> Ints:
        key = kept.astype(np.uint16).tobytes()
        if key not in known:
            known[key] = answer(kept)
        return known[key]

    return again


@dataclass(frozen=True, slots=True, eq=False)
class VerdictsOver:
    """The verdict of one pair over any choice of titles, as a place in `decide.VERDICTS`.

    Half-widths hardly depend on which titles are left out; where many sets are asked for, those whose verdict is the same at both
    ends of the half-widths to be expected are not worked out further.
    """

    field: Field
    pair: int

    def __call__(self, kept: Floats) -> Ints:
        """(B,), for how often each title counts (B, T)."""
        estimate = np.nan_to_num(self.field.over(kept, slice(self.pair, self.pair + 1))[:, 0])
        codes, to_do = self._foreseen(kept, estimate)
        rows = np.flatnonzero(to_do)
        if rows.size:
            codes[rows] = verdicts_over(self.field, estimate[rows], halves_over(self.field, kept[rows], self.pair))
        return codes

    def _foreseen(self, kept: Floats, estimate: Floats) -> tuple[Ints, Bools]:
        """(codes, rows that must be worked out)."""
        count, titles = kept.shape
        band = 0.0
        if count >= MANY and kept.max() <= 1 and (kept == 0).sum(axis=1).max() <= ALL_UP_TO:
            one_less = np.concatenate([np.ones((1, titles)), 1.0 - np.eye(titles)])
            found = halves_over(self.field, one_less, self.pair)
            band = max(float(np.abs(np.log(half / half[0])).max()) for half in (found.these, found.inner))
        if not 0 < band <= STEADY:
            return np.zeros(count, dtype=np.intp), np.ones(count, dtype=bool)
        ends = [
            Halves(np.full(count, found.these[0] * scale), np.full(count, found.inner[0] * scale))
            for scale in (math.exp(-WIDEST * band), math.exp(WIDEST * band))
        ]
        narrow, wide = (verdicts_over(self.field, estimate, end) for end in ends)
        return narrow, narrow != wide


@dataclass(frozen=True, slots=True, eq=False)
class SetupNamed:
    """The setup recommended over any choice of titles, as its place in the design; M measures that have weight.

    fields, weights : of the measures. over : measure and setup -> its verdict against the baseline, None where there is none.
    behind : (T, C), clearly behind the baseline at a title. brings : (C,), a benefit is stated.
    """

    fields: tuple[Field, ...]
    weights: Floats
    over: tuple[tuple[Answer | None, ...], ...]
    behind: Bools
    brings: Bools
    baseline: int

    def __call__(self, kept: Floats) -> Ints:
        """(B,), for how often each title counts (B, T)."""
        setups = self.brings.size
        codes = np.full((len(kept), len(self.fields), setups), UNTOLD, dtype=np.intp)
        for m, own in enumerate(self.over):
            for c, answer in enumerate(own):
                if answer is not None:
                    codes[:, m, c] = answer(kept)
        lead = np.stack([_over_baseline(f, f.over(kept)) for f in self.fields], axis=1)
        behind = (kept > 0).astype(np.float64) @ self.behind > 0
        return decide_setup(codes, _mean(self.weights, np.nan_to_num(lead, nan=-np.inf)), behind, self.brings, self.baseline)

    def gains(self) -> Floats:
        """(T, C): gain over the baseline at each title in margins, measures by weight; lowest where absent."""
        own = [np.where(f.has, f.estimate, np.nan) for f in self.fields]
        lead = np.stack([_over_baseline(f, e) for f, e in zip(self.fields, own, strict=True)], axis=1)
        return _mean(self.weights, np.nan_to_num(lead, nan=-np.inf))


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A measure's field, and of each setup the verdict against the baseline, None where there is none."""

    field: Field
    over: tuple[Answer | None, ...]


def measured(field: Field) -> Measured:
    """A field with its verdicts."""
    pairs = pairs_of(field.analysis.design)
    own: list[Answer | None] = [None] * len(field.analysis.design.setups)
    for p in against_baseline(field):
        if field.analysis.told and field.has[:, p].any():
            own[pairs[p][0]] = remembered(VerdictsOver(field, p))
    return Measured(field, tuple(own))


def setup_named(
    parts: Mapping[str, Measured], judgement: Judgement, advice: Recommendation, preferences: Preferences
) -> SetupNamed:
    """The answer of a recommendation for any choice of titles; `parts` holds the measures that have weight."""
    own = [parts[key] for key in advice.weights]
    setups, base, titles = judgement.design.setups, judgement.design.baseline, own[0].field.analysis.visits.titles
    behind = np.zeros((len(titles), len(setups)), dtype=bool)
    for key in advice.weights:
        for c in judgement.measures[key].comparisons:
            if c.against == base and c.verdict in BEHIND:
                behind[titles.index(c.title), setups.index(c.setup)] = True
    return SetupNamed(
        fields=tuple(part.field for part in own),
        weights=np.array(list(advice.weights.values())),
        over=tuple(part.over for part in own),
        behind=behind,
        brings=np.array([bool(advice.of(s).brings) or saves_power(advice.power, s, preferences) for s in setups]),
        baseline=setups.index(base),
    )


def _over_baseline(field: Field, estimate: Floats) -> Floats:
    """(B, C): from estimates of pairs (B, P) to gains over the baseline in margins, better direction positive; its own 0."""
    design, pairs = field.analysis.design, pairs_of(field.analysis.design)
    found = np.zeros((len(estimate), len(design.setups)))
    better = 1.0 if field.analysis.measure.better is Better.HIGHER else -1.0
    for p in against_baseline(field):
        found[:, pairs[p][0]] = better * estimate[:, p] / field.unit
    return found


def _mean(weights: Floats, values: Floats) -> Floats:
    """(B, C): mean of (B, M, C) by the weights of the measures."""
    return np.asarray(np.einsum("m,bmc->bc", weights / weights.sum(), values))
