"""The recommendation: one setup, why, what speaks against it, and how often other rules would name it too.

>>> from evenhand.judging.advice.recommend import recommend
>>> recommend(judgement, Preferences({"average": 1.0})).setup               # doctest: +SKIP
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log, log1p

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.decision import UNTOLD, decide_setup, is_worth_it, surely_better
from evenhand.judging.advice.draws import SEED
from evenhand.judging.advice.model import MeasureAdvice, Preferences, Reason, Recommendation, SetupAdvice
from evenhand.judging.advice.power import POWER, judged_power, power_use
from evenhand.judging.advice.weighing import Weighed, weigh
from evenhand.judging.decide import AHEAD, BEHIND, VERDICTS
from evenhand.judging.model import Comparison, Judgement, MeasureJudgement, OverTitles, Verdict
from evenhand.measures.model import Better

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Found = OverTitles | Comparison

DRAWS = 500

_OPEN = frozenset({Verdict.OPEN, Verdict.UNTOLD})
_BEYOND = frozenset({Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND})


def recommend(judgement: Judgement, preferences: Preferences, count: int = DRAWS, seed: int = SEED) -> Recommendation | None:
    """What to choose. None where no measure that has weight was judged. The same seed gives the same shares."""
    case = _case(judgement, preferences)
    if not case.measures:
        return None
    over, power = case.codes(), judged_power(preferences.inputs.power_visits, judgement.design)
    behind = np.array([bool(case.titles_with(s, BEHIND)) for s in case.setups])
    brings = np.array([bool(preferences.brings.get(s)) or saves_power(power, s, preferences) for s in case.setups])
    better, worth = surely_better(over), is_worth_it(over, behind, brings)
    place = int(decide_setup(over, case.lead(), behind, brings, case.baseline))
    named = case.setups[place]
    unsure = [s for i, s in enumerate(case.setups) if not (better[i] or worth[i] or case.behind_over(s))]
    if place != case.baseline:
        unsure = [s for s in unsure if case.rivals(s, named)]
    open_ = tuple(s for s in unsure if case.may_lead(s))
    benefit_open = tuple(
        s for s in unsure if s not in open_ and brings[case.setups.index(s)] and not behind[case.setups.index(s)]
    )
    reason = _reason(place == case.baseline, bool(better[place]), bool(open_ or benefit_open))
    alike = better if reason is Reason.AHEAD else worth
    drawn = _weighed(case, count, seed)
    return Recommendation(
        setup=named,
        baseline=judgement.design.baseline,
        reason=reason,
        setups=tuple(_setup(case, s, drawn) for s in case.setups),
        rivals=tuple(s for i, s in enumerate(case.setups) if alike[i] and named != case.base and case.rivals(s, named)),
        open=open_,
        benefit_open=benefit_open,
        trades=tuple(s for s in case.setups if case.trades(s)),
        mixed=tuple(s for s in case.setups if case.mixed(s)),
        exceptions=_exceptions(case, named),
        rules=tuple(replace(r, shares=_spread(drawn, r.shares, case.setups)) for r in drawn.rules) if drawn else (),
        title_chances={t: _spread(drawn, row, case.setups) for t, row in zip(drawn.titles, drawn.best_at.tolist(), strict=True)}
        if drawn
        else {},
        weights={m.measure.key: case.weight(m) for m in case.measures},
        draws=count if drawn else 0,
        power=power,
        power_weight=preferences.power if preferences.inputs.power else 0.0,
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """What is weighed: the measures that have weight; in each, every setup's verdicts over titles and at titles.

    over : (measure, setup, against) -> over titles, or at the only title. at : (measure, setup) -> at titles, with the baseline.
    """

    judgement: Judgement
    preferences: Preferences
    measures: tuple[MeasureJudgement, ...]
    over: Mapping[tuple[str, str, str], Found]
    at: Mapping[tuple[str, str], Sequence[Comparison]]

    @property
    def setups(self) -> tuple[str, ...]:
        return self.judgement.design.setups

    @property
    def base(self) -> str:
        return self.judgement.design.baseline

    @property
    def baseline(self) -> int:
        return self.setups.index(self.base)

    def weight(self, judged: MeasureJudgement) -> float:
        return self.preferences.measures[judged.measure.key]

    def against_base(self, setup: str) -> list[Found | None]:
        """In each measure."""
        return [self.over.get((m.measure.key, setup, self.base)) for m in self.measures]

    def titles_with(self, setup: str, verdicts: frozenset[Verdict]) -> tuple[str, ...]:
        """Titles with one of these verdicts against the baseline in a measure that has weight."""
        found = {c.title for m in self.measures for c in self.at.get((m.measure.key, setup), ()) if c.verdict in verdicts}
        return tuple(t for t in self.judgement.titles if t in found)

    def codes(self) -> npt.NDArray[np.intp]:
        """(M, C): codes of the verdicts against the baseline over titles."""
        rows = zip(*(self.against_base(s) for s in self.setups), strict=True)
        return np.array([[_code(found) for found in row] for row in rows], dtype=np.intp)

    def lead(self) -> Floats:
        """(C,): mean gain over the baseline in margins, measures by weight; lowest where nothing could be compared."""
        found = np.array([[self._gain(m, s) for s in self.setups] for m in self.measures])
        weights = np.array([self.weight(m) for m in self.measures])
        return np.asarray(weights @ found / weights.sum())

    def _gain(self, judged: MeasureJudgement, setup: str) -> float:
        found = self.over.get((judged.measure.key, setup, self.base))
        if found is None:
            return 0.0 if setup == self.base else -np.inf
        return better_side(found.estimate, judged) / judged.margin

    def behind_over(self, setup: str) -> bool:
        """Behind the baseline in some measure, by verdict over titles; the baseline itself counts as such."""
        return setup == self.base or any(f is not None and f.verdict in BEHIND for f in self.against_base(setup))

    def may_lead(self, setup: str) -> bool:
        """Whether being ahead of the baseline beyond the margin is not excluded in some measure, or nothing is known yet."""
        found = self.against_base(setup)
        return any(f is None or _may_lead(f, m) for f, m in zip(found, self.measures, strict=True))

    def trades(self, setup: str) -> bool:
        """Ahead beyond the margin in a measure, behind in another."""
        verdicts = {f.verdict for f in self.against_base(setup) if f is not None}
        return Verdict.AHEAD_BEYOND in verdicts and bool(verdicts & BEHIND)

    def mixed(self, setup: str) -> bool:
        """Behind in a measure, while it may be ahead beyond the margin in another."""
        return setup != self.base and self.behind_over(setup) and self.may_lead(setup)

    def rivals(self, setup: str, named: str) -> bool:
        """Not behind the setup named over titles, in any measure."""
        if setup == named:
            return False
        for m in self.measures:
            one, other = self.over.get((m.measure.key, setup, named)), self.over.get((m.measure.key, named, setup))
            if (one and one.verdict in BEHIND) or (other and other.verdict in AHEAD):
                return False
        return True


def better_side(value: float, judged: MeasureJudgement) -> float:
    """A difference on the measure's scale with the better direction positive."""
    return value if judged.measure.better is Better.HIGHER else -value


def _case(judgement: Judgement, preferences: Preferences) -> _Case:
    measures = tuple(m for key, m in judgement.measures.items() if preferences.measures.get(key, 0.0) > 0)
    single = len(judgement.titles) == 1
    over: dict[tuple[str, str, str], Found] = {}
    at: dict[tuple[str, str], list[Comparison]] = defaultdict(list)
    for m in measures:
        over |= {(m.measure.key, f.setup, f.against): f for f in (m.comparisons if single else m.over)}
        for c in m.comparisons:
            if c.against == judgement.design.baseline:
                at[m.measure.key, c.setup].append(c)
    return _Case(judgement, preferences, measures, over, at)


def _code(found: Found | None) -> int:
    return UNTOLD if found is None or found.verdict is Verdict.UNTOLD else VERDICTS.index(found.verdict)


def _may_lead(found: Found, judged: MeasureJudgement) -> bool:
    """Whether being ahead beyond the margin is not excluded."""
    if found.verdict is Verdict.LEVEL:
        return False
    reach = found.these if isinstance(found, OverTitles) else found.simultaneous
    return found.verdict is Verdict.UNTOLD or max(better_side(reach.low, judged), better_side(reach.high, judged)) > found.margin


def _reason(stays: bool, ahead: bool, unsettled: bool) -> Reason:
    if stays:
        return Reason.OPEN if unsettled else Reason.NONE_BETTER
    return Reason.AHEAD if ahead else Reason.BENEFIT


def saves_power(power: MeasureJudgement | None, setup: str, preferences: Preferences) -> bool:
    """Whether it surely draws less power, where power has weight."""
    if power is None or preferences.power <= 0:
        return False
    found = power.over or power.comparisons
    return any(f.setup == setup and f.verdict is Verdict.AHEAD_BEYOND for f in found)


def _weighed(case: _Case, count: int, seed: int) -> Weighed | None:
    pooled = [case.judgement.pooled.get(m.measure.key) for m in case.measures]
    parts = [p for p in pooled if p is not None]
    if len(parts) < len(pooled):
        return None
    weights = [case.weight(m) for m in case.measures]
    return weigh(parts, weights, case.judgement.design.weights, _power_gains(case), count, seed)


def _power_gains(case: _Case) -> dict[tuple[str, str], float]:
    """(title, setup) -> weight times the gain in power in its margins."""
    watts, weight = case.preferences.inputs.power, case.preferences.power
    margin = log1p(case.judgement.design.margins.get(POWER.key, POWER.margin))
    base = {t: w for (t, s), w in watts.items() if s == case.base}
    return {(t, s): weight * log(base[t] / w) / margin for (t, s), w in watts.items() if t in base and weight > 0}


def _setup(case: _Case, setup: str, drawn: Weighed | None) -> SetupAdvice:
    known = drawn is not None and setup in drawn.setups
    behind = case.titles_with(setup, BEHIND)
    open_ = case.titles_with(setup, _OPEN)
    return SetupAdvice(
        setup=setup,
        measures=tuple(_measure(case, m, setup, drawn if known else None) for m in case.measures),
        behind=behind,
        ahead=case.titles_with(setup, AHEAD),
        unsettled=tuple(t for t in open_ if t not in behind),
        best_chance=float(drawn.best[drawn.setups.index(setup)]) if drawn is not None and known else None,
        power=power_use(case.preferences.inputs.power, case.judgement, setup),
        brings=case.preferences.brings.get(setup, ()),
        gives_up=case.preferences.gives_up.get(setup, ()),
    )


def _measure(case: _Case, judged: MeasureJudgement, setup: str, drawn: Weighed | None) -> MeasureAdvice:
    key = judged.measure.key
    over = case.over.get((key, setup, case.base))
    verdict, estimate = (over.verdict, over.estimate) if over else (None, None)
    if drawn is None:
        return MeasureAdvice(key, verdict, estimate, None, "", None, 0, 0)
    own = drawn.regrets[key][:, drawn.setups.index(setup)]
    worst = int(own.argmax())
    return MeasureAdvice(
        measure=key,
        verdict=verdict,
        estimate=estimate,
        worst_regret=float(own[worst]),
        worst_title=drawn.titles[worst] if own[worst] > 0 else "",
        mean_regret=drawn.mean_regret(key, setup),
        within=int((own <= judged.margin).sum()),
        titles=len(drawn.titles),
        regrets=dict(zip(drawn.titles, own.tolist(), strict=True)),
    )


def _exceptions(case: _Case, named: str) -> tuple[Comparison, ...]:
    """At each title the comparison that speaks most clearly for another setup than the one named, if any does."""
    found: dict[str, Comparison] = {}
    for m in case.measures:
        for c in m.comparisons:
            if _speaks_against(c, named, case.base) and (
                c.title not in found or abs(c.estimate) / c.margin > abs(found[c.title].estimate) / found[c.title].margin
            ):
                found[c.title] = c
    return tuple(found[t] for t in case.judgement.titles if t in found)


def _speaks_against(found: Comparison, named: str, base: str) -> bool:
    """Whether another setup is clearly better than the one named: beyond the margin, or by any clear verdict the baseline."""
    if found.setup == named:
        return found.verdict in (BEHIND if found.against == base else BEHIND & _BEYOND)
    return found.against == named and found.verdict is Verdict.AHEAD_BEYOND


def _spread(drawn: Weighed, shares: Sequence[float], setups: Sequence[str]) -> tuple[float, ...]:
    """Shares of the setups that could be pooled, put in their places among all; 0 for one that could not be compared."""
    known = dict(zip(drawn.setups, shares, strict=True))
    return tuple(known.get(s, 0.0) for s in setups)
