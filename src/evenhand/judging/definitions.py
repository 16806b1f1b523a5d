"""Whether conclusions about a low depend on which of its definitions is used.

A verdict claims where the effect lies, the better direction positive, m the margin: level (−m, m), level with a leaning (0, m) or
(−m, 0), ahead (0, ∞), ahead beyond the margin [m, ∞), behind the mirror images; open claims nothing.

| a comparison | if |
| --- | --- |
| depends on the definition | two verdicts differ and no one effect lies in what both claim |
| is told further under some | verdicts differ, but one effect could bear any two: a matter of precision |
| is the same | all verdicts are the same, and not open |

Verdicts are not compared by their words: "open" beside "ahead", or "ahead" beside "level", is no contradiction.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations

from evenhand.judging.decide import AHEAD, BEHIND
from evenhand.judging.model import (
    Bearing,
    Comparison,
    DefinedVerdicts,
    Judgement,
    LowDefinitions,
    MeasureJudgement,
    OverTitles,
    Verdict,
)

Found = Comparison | OverTitles
Address = tuple[str | None, str]


def low_definitions(judgement: Judgement, few: Mapping[tuple[str, str], int] | None = None) -> tuple[LowDefinitions, ...]:
    """Every low that was judged under at least two definitions, the greater share first; nothing where visits bear no verdict.

    few : (title, measure key) -> the fewest frames of a visit that decide that low there, only where they are too few to state
    it: it is left out there; over titles it is left out where that is so at every title.
    """
    if judgement.one_visit:
        return ()
    by_share: dict[float, list[MeasureJudgement]] = {}
    for judged in judgement.measures.values():
        if judged.measure.low is not None and judged.measure.tail_share is not None:
            by_share.setdefault(judged.measure.tail_share, []).append(judged)
    return tuple(
        _under_all(share, own, judgement, few or {}) for share, own in sorted(by_share.items(), reverse=True) if len(own) > 1
    )


def _under_all(
    share: float, judged: Sequence[MeasureJudgement], judgement: Judgement, few: Mapping[tuple[str, str], int]
) -> LowDefinitions:
    keys = tuple(j.measure.key for j in judged)
    short = {key: {t: few[t, key] for t in judgement.titles if (t, key) in few} for key in keys}
    found: dict[Address, dict[str, Found]] = {}
    for j in judged:
        for (title, setup), own in _against_baseline(j, judgement).items():
            stated = found.setdefault((title, setup), {})
            too_few = short[j.measure.key]
            if title not in too_few and len(too_few) < len(judgement.titles):
                stated[j.measure.key] = own
    compared = tuple(
        DefinedVerdicts(
            title=title,
            setup=setup,
            against=judgement.design.baseline,
            verdicts={key: f.verdict for key, f in own.items()},
            bearing=bearing(list(own.values())),
        )
        for (title, setup), own in found.items()
    )
    return LowDefinitions(share, keys, compared, {key: titles for key, titles in short.items() if titles})


def _against_baseline(judged: MeasureJudgement, judgement: Judgement) -> dict[Address, Found]:
    """(title or None, setup) -> what was found; over titles only where there are several."""
    base = judgement.design.baseline
    over: dict[Address, Found] = {(None, o.setup): o for o in judged.over if o.against == base and len(judgement.titles) > 1}
    return over | {(c.title, c.setup): c for c in judged.comparisons if c.against == base}


def bearing(found: Sequence[Found]) -> Bearing:
    """What the choice of definition does to a comparison, from what each definition that can be stated found."""
    verdicts = {f.verdict for f in found}
    if len(found) < 2 or Verdict.UNTOLD in verdicts:
        return Bearing.UNSTATED
    if len(verdicts) == 1:
        return Bearing.OPEN if Verdict.OPEN in verdicts else Bearing.SAME
    apart = any(_contradict(one, other) for one, other in combinations(found, 2))
    return Bearing.DEPENDS if apart else Bearing.FIRMNESS


def _contradict(one: Found, other: Found) -> bool:
    """Whether no one effect lies in what both claim. Level on one side of 0 and level on the other are the same conclusion."""
    if one.verdict is other.verdict:
        return False
    (low, high), (other_low, other_high) = claim(one), claim(other)
    return low >= other_high or other_low >= high


def claim(found: Found) -> tuple[float, float]:
    """Between which ends the effect lies by the verdict, on the measure's scale, the better direction positive."""
    margin = found.margin
    if found.verdict in AHEAD:
        return (margin if found.verdict is Verdict.AHEAD_BEYOND else 0.0), math.inf
    if found.verdict in BEHIND:
        return -math.inf, (-margin if found.verdict is Verdict.BEHIND_BEYOND else 0.0)
    if found.verdict is Verdict.LEVEL:
        return (0.0 if found.leaning > 0 else -margin), (0.0 if found.leaning < 0 else margin)
    return -math.inf, math.inf
