"""The nouns of planning: what noise is supposed, what a study of a kind can be expected to tell, and what it costs in hours.

All spreads and half-widths are on the measure's own scale: natural logarithms for rates, plain differences for the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.measures.model import Measure
from evenhand.study.model import Costs


@dataclass(frozen=True, slots=True)
class Scheme:
    """What a study consists of, as planned or as it was recorded.

    titles, setups : names. scenes : number of scenes of each title. runs : counted recordings of a scene in a visit; warm_up :
    those before them that never count. rounds : whether the analysis takes rounds out, None = where they are complete.
    weights : of each title's vote.
    """

    titles: tuple[str, ...]
    setups: tuple[str, ...]
    baseline: str
    scenes: tuple[int, ...]
    visits: int
    runs: int
    warm_up: int
    rounds: bool | None
    weights: tuple[float, ...]
    confidence: float = 0.95


@dataclass(frozen=True, slots=True)
class Spreads:
    """The noise of one measure as standard deviations, and where they come from (`source`, in words).

    run : of one run of one scene. title : of a visit, at one title alone, beyond its runs. visit : of a visit, shared by all
    titles. round : of a round, shared by all its visits. unlike : spread of the logarithm of the run noise between titles.
    run_df, title_df, visit_df : degrees of freedom that each was learned with, None where it is supposed. loose : runs and a
    title's own shift could not be told apart, so that all of it stands in `title`.
    """

    run: float
    title: float
    visit: float
    round: float
    source: str
    unlike: float = 0.0
    run_df: float | None = None
    title_df: float | None = None
    visit_df: float | None = None
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Difference:
    """A share of the comparisons with the baseline, and how far those setups truly are from it, in margins (minus: less)."""

    share: float
    margins: float


@dataclass(frozen=True, slots=True)
class Counted:
    """A counted share and its Monte Carlo standard error."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What to expect of a comparison of two setups, at a title or over titles.

    simultaneous, pointwise : half-width of the typical (median) interval, over all pairs of setups and of this pair alone;
    infinite where visits and setups cannot be told apart. finds_double, finds_more : chance of "ahead" where the true difference
    is 2 and 1.5 margins. tie_level : chance of "level" where there is no difference. settled : share of verdicts that are not
    open, with differences as supposed (before recording) or as found, within what is known of them (after it). covers : a
    pointwise interval holds the truth. false_ahead : "ahead" of two setups that are the same, false_level : "level" of two that
    are a margin apart.
    """

    simultaneous: float
    pointwise: float
    finds_double: float
    finds_more: float
    tie_level: float
    settled: float
    covers: Counted
    false_ahead: Counted
    false_level: Counted


@dataclass(frozen=True, slots=True)
class Reach:
    """The same half-widths and share of one comparison (title None: over titles), which differ where visits are missing."""

    title: str | None
    setup: str
    against: str
    simultaneous: float
    pointwise: float
    settled: float


@dataclass(frozen=True, slots=True)
class Needed:
    """Visits of each setup at which a chance of four in five is reached, by formula; None where `most` do not reach it."""

    finds_double: int | None
    tie_level: int | None
    most: int


@dataclass(frozen=True, slots=True)
class Expected:
    """What a study of this design and noise can tell in one measure.

    margin : on the measure's scale. family : all simultaneous intervals of a title hold. visit_df : degrees of freedom of the
    shift shared by all titles. rounds : whether the analysis takes rounds out. short : which of the figures of
    trust miss what is asked for on the side that harms, by more than chance.
    """

    measure: Measure
    margin: float
    spreads: Spreads
    rounds: bool
    visit_df: float
    family: Counted
    at_titles: Outlook
    over_titles: Outlook
    needed: Needed
    reaches: tuple[Reach, ...] = ()
    short: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to spend the hours: visits of each setup and counted runs in each; chances of the leading measure.

    half_title, half_over : half-width of the typical simultaneous interval. settled : share of the verdicts at titles.
    """

    visits: int
    runs: int
    hours: float
    half_title: float
    half_over: float
    settled_title: float
    settled_over: float


@dataclass(frozen=True, slots=True)
class Way:
    """One way to lay the titles over visits: in so many parts, each with visits of its own. visits : of each setup, of all parts.
    hours : of all.

    half_title, half_over, settled_title, settled_over : as of an `Alternative`. visit_df : degrees of freedom of the shift that
    visits share.
    """

    parts: int
    visits: int
    hours: float
    half_title: float
    half_over: float
    settled_title: float
    settled_over: float
    visit_df: float


@dataclass(frozen=True, slots=True)
class Repetitions:
    """Kalibera & Jones (2013): runs in a visit that give most precision for the time, at a title and over titles.

    wanted : not rounded; infinite where visits do not vary beyond their runs, 0 where runs do not vary.
    """

    at_title: float
    over_titles: float


@dataclass(frozen=True, slots=True)
class Hours:
    """What the hours at hand can buy. planned : hours of the study as planned; at_hand : those given, else the same. least :
    hours of the least that bears a verdict, two visits of one counted run. costs : minutes of the parts.

    best : place in `alternatives` of the one that settles most at titles, None where none bears a verdict.
    """

    planned: float
    at_hand: float
    least: float
    costs: Costs
    alternatives: tuple[Alternative, ...]
    best: int | None
    repetitions: Repetitions


@dataclass(frozen=True, slots=True)
class OpenVerdict:
    """An open verdict (title None: over titles) and the chance that it is settled after 1, 2, 3 ... further visits of each setup.

    visits : the first number with a chance of four in five, None where no number tried has it. quick : the figure that judging
    gives, which supposes that the estimate stays what it is.
    """

    measure: str
    title: str | None
    setup: str
    against: str
    estimate: float
    chances: tuple[float, ...]
    visits: int | None
    quick: int | None


@dataclass(frozen=True, slots=True)
class NextVisits:
    """How to spend the next whole visits (all titles) so that the best setup is told soonest: setup -> visits."""

    measure: str
    best: str
    visits: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """Everything that rehearsing a study told.

    recorded : the noise is the study's own. opened : after recording only. noisier : before it, the share of the leading
    measure's verdicts at titles that would settle if all its noise were half as large again.
    """

    recorded: bool
    scheme: Scheme
    studies: int
    seed: int
    supposed: tuple[Difference, ...]
    expected: tuple[Expected, ...]
    hours: Hours
    opened: tuple[OpenVerdict, ...] = ()
    next_visits: NextVisits | None = None
    noisier: float | None = None
    notes: tuple[str, ...] = ()
