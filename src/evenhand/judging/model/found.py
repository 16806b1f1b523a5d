"""What is found about one measure: estimates with their intervals, verdicts, counts, noise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum


class Verdict(Enum):
    """Of one setup against another. A decision is a type, not a string; writeup/sentences.py words it."""

    LEVEL = "level"
    AHEAD = "ahead"
    AHEAD_BEYOND = "ahead beyond the margin"
    BEHIND = "behind"
    BEHIND_BEYOND = "behind beyond the margin"
    OPEN = "open"
    UNTOLD = "no verdict"  # one visit a setup: visit and setup cannot be told apart


@dataclass(frozen=True, slots=True)
class Interval:
    """low <= high, on the measure's scale; `confidence` e.g. 0.95. Infinite ends where there are no degrees of freedom."""

    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Cell:
    """The estimate of one title (or scene) under one setup, in natural units (frames per second, share ...).

    interval_low/high : pointwise, of the cell's own mean over visits, natural units. visit_means : one per visit, natural units,
    with the number of runs in each.
    """

    measure: str
    title: str
    setup: str
    value: float
    interval_low: float
    interval_high: float
    visits: int
    runs: int
    visit_means: tuple[float, ...]
    visit_runs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """One setup against another at one title.

    simultaneous : 95 % over all pairs of the title (single-step max-t). pointwise : 95 % this pair alone. inner : 90 % this pair
    alone (two one-sided tests). margin : on the measure's scale (log-ratio for LOG). df : Satterthwaite.
    tipping : one-visit studies only: the visit-to-visit standard deviation up to which the sign would hold.
    visits_to_settle : further visits per setup expected to settle an open verdict, None where it is settled or cannot be told.
    doubts : why this number should be trusted less, in words (few degrees of freedom ...).
    leaning : 1 where the simultaneous interval lies wholly on the better side of 0, -1 wholly on the worse, else 0. Level with a
    leaning is "ahead (behind) by less than matters"; ahead with an interval that spans the margin leaves open by how much.
    p_value : two-sided, this pair alone. false_discovery : the same adjusted over the titles of this pair (Benjamini & Hochberg
    1995). pooled : the estimate drawn towards the other titles' as far as they are alike (partial
    pooling), None where there are no others.
    """

    measure: str
    title: str
    setup: str
    against: str
    estimate: float
    se: float
    df: float
    simultaneous: Interval
    pointwise: Interval
    inner: Interval
    margin: float
    verdict: Verdict
    tipping: float | None = None
    visits_to_settle: int | None = None
    doubts: tuple[str, ...] = ()
    leaning: int = 0
    p_value: float | None = None
    false_discovery: float | None = None
    pooled: float | None = None


@dataclass(frozen=True, slots=True)
class OverTitles:
    """One setup against another over the study's titles (geometric mean of ratios; mean of differences).

    se_these, df_these, these : for the titles of this study. se_like, df_like, like : for titles like these (fewer than 2 titles:
    like is None). tau : spread of the effect between titles (REML). prediction : for one title not tested.
    these : simultaneous over pairs; the verdict rests on it. inner : 90 % for these titles, pair by pair. like, prediction :
    this pair alone. titles_ahead .. titles_untold : counts of the title-level verdicts. p_value : two-sided, of "no difference"
    over these titles. leaning : as in `Comparison`, of `these`.
    """

    measure: str
    setup: str
    against: str
    estimate: float
    se_these: float
    df_these: float
    these: Interval
    inner: Interval
    se_like: float | None
    df_like: float | None
    like: Interval | None
    tau: float | None
    prediction: Interval | None
    margin: float
    verdict: Verdict
    titles: int
    titles_ahead: int
    titles_level: int
    titles_behind: int
    titles_open: int
    titles_untold: int
    tipping: float | None = None
    visits_to_settle: int | None = None
    doubts: tuple[str, ...] = ()
    leaning: int = 0
    p_value: float | None = None


@dataclass(frozen=True, slots=True)
class Effect:
    """A factor's main effect or an interaction, at a title (`title`) or over titles (None).

    factors : the factors concerned (1 = main effect). levels : level compared and reference, per factor, e.g. ("all", "one").
    Main effect: mean over the other factors' levels of (level - reference). Interaction of two: the change in that effect,
    (d - c) - (b - a) on the scale, not halved; so 0 = the factors do not need each other.
    pointwise : this effect alone. simultaneous : over all effects of the title (or over titles); the verdict rests on it and, for
    level, on the 90 % interval of this effect alone. additive : no two setups differ in nothing else, so it holds only if factors
    do not need each other.
    """

    measure: str
    title: str | None
    factors: tuple[str, ...]
    levels: tuple[tuple[str, str], ...]
    estimate: float
    se: float
    df: float
    pointwise: Interval
    margin: float
    verdict: Verdict
    doubts: tuple[str, ...] = ()
    simultaneous: Interval | None = None
    additive: bool = False

    @property
    def interval(self) -> Interval:
        """The one that holds for all effects at once, where there is one."""
        return self.simultaneous or self.pointwise


@dataclass(frozen=True, slots=True)
class Noise:
    """The variance parts of one measure, as standard deviations on its scale, with their degrees of freedom.

    shift : of a visit, shared by all titles. title : per title, of its own visit residual, raw. title_moderated : after sharing
    across titles. prior_df : d0 (inf = all alike). run : run-to-run within a visit, pooled; None where no visit has two runs.
    """

    measure: str
    shift: float | None
    shift_df: float
    title: Mapping[str, float]
    title_df: Mapping[str, float]
    title_moderated: Mapping[str, float]
    prior_df: float
    run: float | None
    run_df: float


@dataclass(frozen=True, slots=True)
class AgainstBest:
    """One setup against the best of the others, at a title (`title`) or over the titles that have every setup (None).

    estimate : setup less the best of the others, on the measure's scale, sign of the value. interval : simultaneous over the
    setups and constrained (Hsu 1981): one end is 0 where it is not on both sides of 0, so it never says by how much at least the
    best leads. may_be_best : it cannot be told from the best; at least one setup may be.
    """

    measure: str
    title: str | None
    setup: str
    estimate: float
    interval: Interval
    may_be_best: bool


@dataclass(frozen=True, slots=True)
class TitleCounts:
    """In how many titles a setup is beyond the margin of another, and how far apart the titles are.

    behind, ahead : titles with that verdict beyond the margin. may_be_behind, may_be_ahead : further titles whose interval does
    not exclude it. behind_share, ahead_share : share of titles like these, exact binomial: the low end from those that are, the
    high end from those that are or may be. quantiles : smallest estimate, lower quartile, median, upper quartile, largest, on the
    measure's scale, sign of the value.
    """

    measure: str
    setup: str
    against: str
    titles: int
    behind: int
    may_be_behind: int
    behind_share: Interval
    ahead: int
    may_be_ahead: int
    ahead_share: Interval
    quantiles: tuple[float, float, float, float, float]
