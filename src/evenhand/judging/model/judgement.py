"""Everything found about a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.judging.model.design import Design
from evenhand.judging.model.found import AgainstBest, Cell, Comparison, Effect, Noise, OverTitles, TitleCounts, Verdict
from evenhand.judging.model.pooled import PooledCells
from evenhand.judging.model.trends import Trend
from evenhand.measures.model import Measure


@dataclass(frozen=True, slots=True)
class MeasureJudgement:
    """Everything about one measure. best : empty where one visit a setup bears no verdict. counts : against the baseline, of two
    titles or more.
    """

    measure: Measure
    margin: float
    cells: tuple[Cell, ...]
    comparisons: tuple[Comparison, ...]  # every setup against every earlier one AND against the baseline, each pair once
    over: tuple[OverTitles, ...]
    effects: tuple[Effect, ...]
    noise: Noise
    rounds_used: bool
    best: tuple[AgainstBest, ...] = ()
    counts: tuple[TitleCounts, ...] = ()
    trends: tuple[Trend, ...] = ()


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A verdict that differs between the analysis shown and another way of doing it (`way`, in words)."""

    way: str
    measure: str
    title: str | None
    setup: str
    against: str
    shown: Verdict
    other: Verdict


@dataclass(frozen=True, slots=True)
class Judgement:
    """What `judge` returns. `measures` in the design's order.

    other_rounds : the same with (without) the round term, None where only one is possible.
    notes : what could not be judged and why. pooled : measure key -> the titles' contrasts drawn towards each other, where visits
    and setups can be told apart.
    """

    design: Design
    measures: Mapping[str, MeasureJudgement]
    other_rounds: Mapping[str, MeasureJudgement] | None
    titles: tuple[str, ...]
    visits: int
    runs: int
    one_visit: bool
    notes: tuple[str, ...] = ()
    disagreements: tuple[Disagreement, ...] = ()
    pooled: Mapping[str, PooledCells] = field(default_factory=dict, compare=False)
