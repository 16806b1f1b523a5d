"""In how many titles a setup is beyond the margin of the baseline, and what that says of titles like these."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.judging.model import Comparison, Design, Interval, TitleCounts, Verdict
from evenhand.measures.model import Better, Measure
from evenhand.stats.binomial import clopper_pearson
from evenhand.stats.quantiles import quantile

QUANTILES = (0.0, 0.25, 0.5, 0.75, 1.0)


def title_counts(compared: Sequence[Comparison], measure: Measure, design: Design) -> tuple[TitleCounts, ...]:
    """Each setup against the baseline, in the design's order, where at least two titles bear a verdict. Weights are no part of
    it: a title is one count.
    """
    found = []
    for setup in design.setups:
        own = [c for c in compared if (c.setup, c.against) == (setup, design.baseline) and c.verdict is not Verdict.UNTOLD]
        if len(own) > 1:
            found.append(_counts(own, measure.better, design.confidence))
    return tuple(found)


def _counts(own: Sequence[Comparison], better: Better, confidence: float) -> TitleCounts:
    behind, may_be_behind = _beyond(own, Verdict.BEHIND_BEYOND, better is Better.LOWER)
    ahead, may_be_ahead = _beyond(own, Verdict.AHEAD_BEYOND, better is Better.HIGHER)
    low, quarter, median, three_quarters, high = (quantile([c.estimate for c in own], p) for p in QUANTILES)
    return TitleCounts(
        measure=own[0].measure,
        setup=own[0].setup,
        against=own[0].against,
        titles=len(own),
        behind=behind,
        may_be_behind=may_be_behind,
        behind_share=share_between(behind, behind + may_be_behind, len(own), confidence),
        ahead=ahead,
        may_be_ahead=may_be_ahead,
        ahead_share=share_between(ahead, ahead + may_be_ahead, len(own), confidence),
        quantiles=(low, quarter, median, three_quarters, high),
    )


def _beyond(own: Sequence[Comparison], verdict: Verdict, upwards: bool) -> tuple[int, int]:
    """(titles with the verdict, further titles whose simultaneous interval reaches beyond the margin and that are not level)."""
    certain = sum(c.verdict is verdict for c in own)
    reach = [(c.simultaneous.high if upwards else -c.simultaneous.low) > c.margin for c in own]
    possible = sum(r and c.verdict not in (verdict, Verdict.LEVEL) for r, c in zip(reach, own, strict=True))
    return certain, possible


def share_between(certain: int, possible: int, titles: int, confidence: float) -> Interval:
    """Exact interval of a share when between `certain` and `possible` of `titles` have the property."""
    return Interval(clopper_pearson(certain, titles, confidence)[0], clopper_pearson(possible, titles, confidence)[1], confidence)
