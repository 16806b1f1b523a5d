"""What depends on which titles are in a study: what fewer of them would say, and what leaving some out turns."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OnVisits:
    """A size of choice put to the test: chosen without some visits and held against what all titles say on those, for each part
    of the visits in turn. Errors are root mean squares in margins, over measures, pairs of setups and visits left out.

    verdicts : share of the verdicts over titles, against the baseline, that are those of all titles. first : share of the visits
    left out on which the same setup comes first. again : share of the titles kept that are also chosen without the visits.
    random_... : the same of random choices, on the mean. better_than : share of random choices with a larger error.
    """

    error: float
    verdicts: float
    first: float
    again: float
    random_error: float
    random_verdicts: float
    random_first: float
    better_than: float


@dataclass(frozen=True, slots=True)
class OnTitles:
    """A size of choice made without some titles, held against those: errors as in `OnVisits`. whole_error : of all the titles
    that it was made from.
    """

    error: float
    random_error: float
    whole_error: float


@dataclass(frozen=True, slots=True)
class Thinned:
    """The best choice of its size.

    exact : whether every choice was looked at. expected_error : of the next study with these titles, visited as this one was,
    against all titles; root mean square in margins; infinite where a pair of setups is lost. wider : the widest of its intervals
    over titles as a multiple of all titles', None where there are none. groups_missing : response groups without a title.
    """

    kept: tuple[str, ...]
    exact: bool
    expected_error: float
    wider: float | None
    groups_missing: int
    on_visits: OnVisits | None
    on_titles: OnTitles | None


@dataclass(frozen=True, slots=True)
class Thinning:
    """Which titles to keep for the next study. choices : by size. visits_left_out : how often visits were left out to test
    choices, 0 where there are too few. setup_visits : visits of all setups together, each of all titles.
    """

    measures: tuple[str, ...]
    titles: tuple[str, ...]
    choices: tuple[Thinned, ...]
    visits_left_out: int
    setup_visits: int
