"""The nouns of advice: what a person wants, and which setup that speaks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, StrEnum

from evenhand.judging.model import Comparison, MeasureJudgement, Verdict
from evenhand.study.model import Inputs, Stated


@dataclass(frozen=True, slots=True)
class Preferences:
    """What counts, and how much.

    measures : measure key -> weight; those not named have none. power : weight of the power drawn; without one, less power is no
    reason for a setup. brings, gives_up : setup -> what the study states of it beside frame rates. inputs : what was measured
    beside the frames. (What a title counts is in the design, as its vote decides the verdicts too.)
    """

    measures: Mapping[str, float]
    power: float = 0.0
    brings: Mapping[str, tuple[Stated, ...]] = field(default_factory=dict)
    gives_up: Mapping[str, tuple[Stated, ...]] = field(default_factory=dict)
    inputs: Inputs = field(default_factory=Inputs)


class Rule(StrEnum):
    """How a setup is chosen when nothing but the gains counts."""

    MEAN = "highest mean gain"
    WORST = "smallest worst regret"
    REGRET = "smallest mean regret beyond the margin"


class Reason(Enum):
    """Why a setup is recommended. The baseline needs none: it is left only for a reason."""

    AHEAD = "ahead of the baseline beyond the margin"
    BENEFIT = "brings a stated benefit and is behind nowhere that matters"
    NONE_BETTER = "no other setup is better by more than the margin"
    OPEN = "cannot tell"


@dataclass(frozen=True, slots=True)
class MeasureAdvice:
    """One setup in one measure that has weight, over the titles that could be pooled.

    verdict, estimate : against the baseline over titles, or at the only title, on the measure's scale, sign of the value; None
    for the baseline itself and where nothing could be compared. worst_regret, mean_regret : what titles lose against their best
    setup, partially pooled, not below 0, on the measure's scale. worst_title : where it is worst, "" where nothing is lost.
    within : titles that lose no more than the margin. regrets : title -> its regret. None (0, empty) where visits and setups
    cannot be told apart.
    """

    measure: str
    verdict: Verdict | None
    estimate: float | None
    worst_regret: float | None
    worst_title: str
    mean_regret: float | None
    within: int
    titles: int
    regrets: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PowerUse:
    """Power drawn under one setup: means over the titles that have it under this setup and the baseline.

    watts : mean. change : mean of the ratios to the baseline's, as logarithm; spread : their standard deviation between titles,
    None for one title. energy : joules a frame, geometric mean over titles, None without an average frame rate.
    """

    watts: float
    change: float
    spread: float | None
    energy: float | None
    titles: int


@dataclass(frozen=True, slots=True)
class SetupAdvice:
    """What speaks for and against one setup.

    behind, ahead : titles with a vote that are clearly behind (ahead of) the baseline in a measure that has weight, by verdict.
    unsettled : the other titles where that is open. best_chance : chance of the highest mean gain, None where it cannot be told.
    """

    setup: str
    measures: tuple[MeasureAdvice, ...]
    behind: tuple[str, ...]
    ahead: tuple[str, ...]
    unsettled: tuple[str, ...]
    best_chance: float | None
    power: PowerUse | None = None
    brings: tuple[Stated, ...] = ()
    gives_up: tuple[Stated, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleAdvice:
    """What one rule names from the partially pooled estimates, and how often it names each setup in draws (setups in order)."""

    rule: Rule
    setup: str
    shares: tuple[float, ...]

    def share(self, setups: tuple[str, ...]) -> float:
        """How often it names the same setup."""
        return self.shares[setups.index(self.setup)]


@dataclass(frozen=True, slots=True)
class Recommendation:
    """One answer and what it rests on.

    setup : the one recommended; the baseline where the reason is NONE_BETTER or OPEN. rivals : other setups that have the same
    reason and are not behind it over titles. open : setups that may be ahead of the baseline beyond the margin, which is not
    settled; benefit_open : others that bring a benefit, of which it is not settled whether they are behind the baseline. In both
    none that is behind the setup named.
    trades : ahead beyond the margin in one measure, behind in another; mixed : those and setups that may be so far ahead in one.
    exceptions : titles where another setup is clearly better than the one recommended: beyond the margin, or the baseline by any
    clear verdict. setups : in the study's order. title_chances : title -> chance of being best of each setup. weights : measure
    -> weight; power_weight : of the power drawn. draws : how many. power : the judgement of power, where it was logged by visits.
    """

    setup: str
    baseline: str
    reason: Reason
    setups: tuple[SetupAdvice, ...]
    rivals: tuple[str, ...]
    open: tuple[str, ...]
    benefit_open: tuple[str, ...]
    trades: tuple[str, ...]
    mixed: tuple[str, ...]
    exceptions: tuple[Comparison, ...]
    rules: tuple[RuleAdvice, ...]
    title_chances: Mapping[str, tuple[float, ...]]
    weights: Mapping[str, float]
    draws: int
    power: MeasureJudgement | None = None
    power_weight: float = 0.0

    def of(self, setup: str) -> SetupAdvice:
        """What is said of a setup. Raises KeyError."""
        return {s.setup: s for s in self.setups}[setup]

    def regrets(self, measure: str) -> dict[str, Mapping[str, float]]:
        """Setup -> title -> its regret in a measure; empty for a single title, of which the worst is all there is."""
        found = {s.setup: m.regrets for s in self.setups for m in s.measures if m.measure == measure}
        return {setup: own for setup, own in found.items() if len(own) > 1}
