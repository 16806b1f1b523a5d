"""What depends on which titles are in a study: what fewer of them would say, and what leaving some out turns."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.judging.model.found import Verdict
from evenhand.judging.model.groups import Response


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


@dataclass(frozen=True, slots=True)
class Turn:
    """The smallest set of titles that turns an answer when it is left out.

    titles : one such set, empty where none was found. to : the answer without it, in the words of what was asked ("" where none).
    ways : how many sets of that size turn it, where all were looked at. proven : no set of as many titles or fewer turns it.
    limit : sets up to this size, half the titles, were searched; those up to three titles all, larger ones along the titles that
    bear the answer most, so that a larger set is "at most so many".
    """

    titles: tuple[str, ...]
    to: str
    ways: int
    proven: int
    limit: int

    @property
    def smallest(self) -> bool:
        """Whether no smaller set can turn the answer."""
        return bool(self.titles) and self.proven == len(self.titles) - 1


@dataclass(frozen=True, slots=True)
class OverDependence:
    """How one setup's result over titles, against the baseline, depends on which titles are in it.

    most : the title that moves the estimate most when it is left out; without : the estimate then, on the measure's scale, sign
    of the value. turns : titles that turn the verdict alone. same : share of studies with as many titles, drawn with replacement
    from these, that come to the same verdict.
    """

    measure: str
    setup: str
    against: str
    estimate: float
    verdict: Verdict
    most: str
    without: float
    turns: tuple[str, ...]
    turn: Turn
    same: float


@dataclass(frozen=True, slots=True)
class GroupAnswer:
    """The setup named for the titles of a response group alone."""

    kind: Response
    titles: tuple[str, ...]
    setup: str


@dataclass(frozen=True, slots=True)
class SetupDependence:
    """How the setup that is named depends on which titles are in the study.

    shares : setup -> share of studies with as many titles, drawn with replacement from these, that name it; 0 left out.
    by_group : what each response group alone names. turns : titles that turn the answer alone.
    """

    setup: str
    turns: tuple[str, ...]
    turn: Turn
    shares: tuple[tuple[str, float], ...]
    by_group: tuple[GroupAnswer, ...]


@dataclass(frozen=True, slots=True)
class TitleDependence:
    """What depends on the choice of titles. over : each setup against the baseline in each measure asked for, where it has a
    verdict and two titles or more. setup : None where no setup can be named. samples : of titles, drawn for the shares.
    """

    over: tuple[OverDependence, ...]
    setup: SetupDependence | None
    samples: int
