"""Response groups: titles that answer the setups alike, told from their verdicts and factor effects; no name is known here.

| group | rule, tried in this order at each title |
| --- | --- |
| average and low disagree | under a setup one is level and the other beyond the margin, or they are on opposite sides, and |
| | their simultaneous intervals do not meet |
| limited by what was not varied | every setup is level with the baseline in the average, and a limit is reached under every |
| | setup: a frame cap, or a graphics processor busy 95 % of the time and more (`judging/limits.py`) |
| level everywhere | every setup is level with the baseline in the average, and none is ahead or behind in the low |
| only the combination counts | every setup one factor away from the baseline is level, one further away is ahead or behind, |
| | and an interaction of these factors is clear |
| what one factor does depends on another | an interaction is beyond the margin |
| prefers levels | the effect of at least one factor is clear |
| ahead or behind | a setup is ahead or behind, and no factor explains it |
| open | anything else |
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from evenhand.judging.decide import AHEAD, BEHIND
from evenhand.judging.model import (
    Comparison,
    Design,
    Effect,
    Interval,
    Judgement,
    Limit,
    Member,
    Preference,
    Response,
    ResponseGroup,
    Verdict,
)

F = TypeVar("F", Comparison, Effect)
CLEAR = AHEAD | BEHIND
BEYOND = frozenset({Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND})


@dataclass(frozen=True, slots=True)
class _Answer:
    """How one title answers; titles with equal `key` form a group."""

    kind: Response
    member: Member
    prefers: tuple[Preference, ...] = ()
    levels: tuple[tuple[str, str], ...] = ()
    setups: tuple[str, ...] = ()
    low_open: bool = False

    @property
    def key(self) -> tuple[object, ...]:
        return (self.kind, self.prefers, self.levels, self.setups)


@dataclass(frozen=True, slots=True)
class _Title:
    """What is known of one title: comparisons with the baseline, by setup, and factor effects, in the average."""

    design: Design
    name: str
    average: dict[str, Comparison]
    low: dict[str, Comparison]
    effects: tuple[Effect, ...]
    limits: tuple[Limit, ...] = ()


def response_groups(
    judgement: Judgement, average: str, low: str | None = None, limits: Mapping[str, tuple[Limit, ...]] | None = None
) -> tuple[ResponseGroup, ...]:
    """Each title that was compared with the baseline in exactly one group; groups in the order of `Response`, larger ones first.

    average, low : keys of the measures that decide; a low that was not judged, or is not on the average's scale and direction, is
    left out of account. limits : title -> what was looked at (`limits_of`). Empty where the average was not judged.
    """
    known = limits or {}
    answers = [_answer(replace(title, limits=known.get(title.name, ()))) for title in _titles(judgement, average, low)]
    kinds = list(Response)
    groups: dict[tuple[object, ...], list[_Answer]] = {}
    for answer in answers:
        groups.setdefault(answer.key, []).append(answer)
    ordered = sorted(groups.values(), key=lambda own: (kinds.index(own[0].kind), -len(own)))
    return tuple(_group(own) for own in ordered)


def _group(own: Sequence[_Answer]) -> ResponseGroup:
    return ResponseGroup(
        kind=own[0].kind,
        members=tuple(a.member for a in own),
        prefers=own[0].prefers,
        levels=own[0].levels,
        setups=own[0].setups,
        low_open=tuple(a.member.title for a in own if a.low_open),
    )


def _titles(judgement: Judgement, average: str, low: str | None) -> list[_Title]:
    shown = judgement.measures.get(average)
    if shown is None:
        return []
    other = judgement.measures.get(low) if low is not None and low != average else None
    if other and (other.measure.scale, other.measure.better) != (shown.measure.scale, shown.measure.better):
        other = None
    base = judgement.design.baseline
    found = []
    for name in judgement.titles:
        own = {c.setup: c for c in shown.comparisons if (c.title, c.against) == (name, base)}
        lows = {c.setup: c for c in other.comparisons if (c.title, c.against) == (name, base)} if other else {}
        if own:
            found.append(_Title(judgement.design, name, own, lows, tuple(e for e in shown.effects if e.title == name)))
    return found


def _answer(title: _Title) -> _Answer:
    for rule in (_disagree, _limited, _level, _combination, _depends, _prefers, _setups):
        answer = rule(title)
        if answer is not None:
            return answer
    unsettled = [c for c in title.average.values() if c.verdict is not Verdict.LEVEL]
    return _Answer(Response.OPEN, Member(title.name, _largest(unsettled or list(title.average.values()))))


def _disagree(title: _Title) -> _Answer | None:
    apart = [s for s, c in title.average.items() if s in title.low and _tell_apart(c, title.low[s])]
    if not apart:
        return None
    most = max(apart, key=lambda s: abs(title.average[s].estimate - title.low[s].estimate))
    return _Answer(Response.DISAGREE, Member(title.name, title.average[most], title.low[most]), setups=tuple(apart))


def _tell_apart(one: Comparison, other: Comparison) -> bool:
    """Whether two measures tell different stories of the same setup, and not only because their margins differ."""
    verdicts = {one.verdict, other.verdict}
    differ = (Verdict.LEVEL in verdicts and bool(verdicts & BEYOND)) or (bool(verdicts & AHEAD) and bool(verdicts & BEHIND))
    return differ and not _meet(one.simultaneous, other.simultaneous)


def _meet(one: Interval, other: Interval) -> bool:
    return one.low <= other.high and other.low <= one.high


def _limited(title: _Title) -> _Answer | None:
    reached = any(limit.reached for limit in title.limits)
    return _all_level(title, Response.LIMITED) if reached else None


def _level(title: _Title) -> _Answer | None:
    return None if any(c.verdict in CLEAR for c in title.low.values()) else _all_level(title, Response.LEVEL)


def _all_level(title: _Title, kind: Response) -> _Answer | None:
    """An answer where every setup is level with the baseline in the average, shown by the widest interval."""
    if any(c.verdict is not Verdict.LEVEL for c in title.average.values()):
        return None
    widest = max(title.average.values(), key=lambda c: max(abs(c.inner.low), abs(c.inner.high)))
    low_open = any(c.verdict is not Verdict.LEVEL for c in title.low.values())
    return _Answer(kind, Member(title.name, widest, limits=title.limits), low_open=low_open)


def _combination(title: _Title) -> _Answer | None:
    steps = {s: _steps(title.design, s) for s in title.average}
    single = [title.average[s] for s, away in steps.items() if len(away) == 1]
    joint = [title.average[s] for s, away in steps.items() if len(away) > 1 and title.average[s].verdict in CLEAR]
    needs = {frozenset(e.factors) for e in title.effects if len(e.factors) > 1 and e.verdict in CLEAR}
    joint = [c for c in joint if any(factors <= {f for f, _ in steps[c.setup]} for factors in needs)]
    if not single or not joint or any(c.verdict is not Verdict.LEVEL for c in single):
        return None
    fewest = min(len(steps[c.setup]) for c in joint)
    shown = _largest([c for c in joint if len(steps[c.setup]) == fewest])
    return _Answer(Response.COMBINATION, Member(title.name, shown), levels=steps[shown.setup], setups=(shown.setup,))


def _steps(design: Design, setup: str) -> tuple[tuple[str, str], ...]:
    """(factor, level) of a setup where its level is not the baseline's."""
    own, base = design.levels.get(setup, {}), design.levels.get(design.baseline, {})
    return tuple((f, own[f]) for f in design.factors if f in own and f in base and own[f] != base[f])


def _depends(title: _Title) -> _Answer | None:
    joint = [e for e in title.effects if len(e.factors) > 1 and e.verdict in BEYOND]
    return _Answer(Response.DEPENDS, Member(title.name, _largest(joint))) if joint else None


def _prefers(title: _Title) -> _Answer | None:
    """Per factor the better level, where an effect against the factor's first level is clear."""
    prefers, shown = [], []
    for factor in title.design.factors:
        own = [e for e in title.effects if e.factors == (factor,)]
        ahead = [e for e in own if e.verdict in AHEAD]
        behind = [e for e in own if e.verdict in BEHIND]
        if ahead or behind:
            effect = _largest(ahead or behind)
            level, first = effect.levels[0]
            better, worse = (level, first) if ahead else (first, level)
            prefers.append(Preference(factor, better, worse))
            shown.append(effect)
    return _Answer(Response.PREFERS, Member(title.name, _largest(shown)), prefers=tuple(prefers)) if shown else None


def _setups(title: _Title) -> _Answer | None:
    clear = [c for c in title.average.values() if c.verdict in CLEAR]
    return _Answer(Response.SETUPS, Member(title.name, _largest(clear)), setups=tuple(c.setup for c in clear)) if clear else None


def _largest(found: Sequence[F]) -> F:
    return max(found, key=lambda f: abs(f.estimate))
