"""How titles respond, a sentence a group; what each says is a verdict or an effect as `sentences` words it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from evenhand import wording
from evenhand.charts.effects import effect_name
from evenhand.judging.model import Comparison, Effect, Limit, LimitKind, Member, Response, ResponseGroup, Verdict
from evenhand.units import number, percent
from evenhand.writeup import sentences
from evenhand.writeup.material import Material
from evenhand.writeup.sections.naming import measure_name

BEYOND: Final = frozenset({Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND})


def group_sentence(material: Material, group: ResponseGroup) -> str:
    """One group with its titles by name and its figures."""
    said = _KINDS[group.kind](material, group)
    return f"{said[:1].upper()}{said[1:]}."


def groups_heading(groups: Sequence[ResponseGroup], titles: int) -> str:
    """The situation in a sentence: `12 titles respond in 4 ways; 2 more are open`."""
    settled = [g for g in groups if g.kind is not Response.OPEN]
    left = sum(len(g.titles) for g in groups if g.kind is Response.OPEN)
    if not settled:
        return "How the titles respond is open"
    rest = f"; {left} more {_are(left)} open" if left else ""
    if len(settled) == 1:
        alike = "All titles respond" if not left else f"{wording.counted(titles - left, 'title')} respond"
        return f"{alike} alike{rest}" if titles - left > 1 else f"One title has responded{rest}"
    return f"{titles - left} titles respond in {len(settled)} ways{rest}"


def _level(material: Material, group: ResponseGroup) -> str:
    said = f"{_all_level(material, group)}. {_no_limit_seen(group)}"
    capped = [t for t in group.titles if material.held(t)]
    if capped:
        was = "was" if len(capped) == 1 else "were"
        said += f". Runs of {_names(material, capped)} {was} held by a frame cap, which makes setups look alike"
    return said


def _limited(material: Material, group: ResponseGroup) -> str:
    by_limit: dict[str, list[str]] = {}
    for member in group.members:
        for limit in member.limits:
            if limit.reached:
                by_limit.setdefault(_limit(limit), []).append(member.title)
    alone = len(group.members) == 1
    held = [said if alone else f"{said} ({_names(material, titles)})" for said, titles in by_limit.items()]
    return f"{_all_level(material, group)}. What was not varied may be why: {wording.listed(held)}"


def _limit(limit: Limit) -> str:
    if limit.kind is LimitKind.CAP:
        return f"a frame cap at {number(limit.value, 1).removesuffix('.0')} a second is reached under every setup"
    return f"the graphics processor is busy {percent(math.floor(limit.value), 0)} of the time or more under every setup"


def _no_limit_seen(group: ResponseGroup) -> str:
    """What was looked at and found not to limit: never more than was looked at."""
    loads = [limit.value for m in group.members for limit in m.limits if limit.kind is LimitKind.GRAPHICS]
    if not loads:
        return "No cap under every setup was seen; how busy the graphics processor was is not on record"
    where = "" if len(loads) == len(group.members) else ", where that is on record"
    most = percent(math.ceil(max(loads)), 0)
    return f"No cap under every setup was seen; the graphics processor was busy {most} of the time at most{where}"


def _all_level(material: Material, group: ResponseGroup) -> str:
    widest = max(group.members, key=lambda m: _reach(_comparison(m)))
    found = _comparison(widest)
    measure = material.average.measure
    span = sentences.signed_interval(found.inner, found.se, measure, found.margin)
    where = f"under {material.setup_label(found.setup)}"
    if len(group.members) > 1:
        where = f"{material.title_label(widest.title)} {where}"
    said = (
        f"{_count(material, group, 'is', 'are')} level with {material.setup_label(found.against)} under every setup; the widest "
        f"interval, {where}, is {span}"
    )
    if group.low_open:
        state = "settled" if group.kind is Response.LEVEL else "level throughout"
        said += f". The low is not {state} in {_names(material, group.low_open)}"
    return said


def _prefers(material: Material, group: ResponseGroup) -> str:
    wanted = [f"{_level_label(material, p.factor, p.level)} to {_level_label(material, p.factor, p.over)}" for p in group.prefers]
    return f"{_count(material, group, 'prefers', 'prefer')} {wording.listed(wanted)}; {_effects(material, group)}"


def _depends(material: Material, group: ResponseGroup) -> str:
    names = _names(material, group.titles)
    return f"in {names} what one factor does depends on the level of another; {_effects(material, group)}"


def _combination(material: Material, group: ResponseGroup) -> str:
    levels = wording.listed([_level_label(material, factor, level) for factor, level in group.levels])
    most = _most(group.members)
    found = _comparison(most)
    who = _count(material, group, "responds", "respond")
    return f"{who} only to {levels} together: {_of_title(material, group, most, found)}, while each by itself is level"


def _setups(material: Material, group: ResponseGroup) -> str:
    setups = sentences.named([material.setup_label(s) for s in group.setups])
    most = _most(group.members)
    return f"{_count(material, group, 'responds', 'respond')} to {setups}: {_of_title(material, group, most, _comparison(most))}"


def _disagree(material: Material, group: ResponseGroup) -> str:
    most = max(group.members, key=lambda m: abs(m.shown.estimate - (m.beside.estimate if m.beside else m.shown.estimate)))
    found, low = _comparison(most), material.own_low
    said = (
        f"average and low disagree in {_names(material, group.titles)}: {_where(material, group, most, found)} the average is "
        f"{sentences.phrase(found, material.average.measure)}"
    )
    return (
        f"{said}, the {measure_name(low.measure)} {sentences.phrase(most.beside, low.measure)}" if low and most.beside else said
    )


def _open(material: Material, group: ResponseGroup) -> str:
    most = _most(group.members)
    found = _comparison(most)
    said = f"how {_names(material, group.titles)} {'responds' if len(group.titles) == 1 else 'respond'} is open"
    hope = sentences.settling([_comparison(m) for m in group.members])
    return f"{said}: {_of_title(material, group, most, found)}{f'; {hope}' if hope else ''}"


_KINDS: Final[Mapping[Response, Callable[[Material, ResponseGroup], str]]] = {
    Response.LEVEL: _level,
    Response.LIMITED: _limited,
    Response.PREFERS: _prefers,
    Response.COMBINATION: _combination,
    Response.DEPENDS: _depends,
    Response.SETUPS: _setups,
    Response.DISAGREE: _disagree,
    Response.OPEN: _open,
}


def _effects(material: Material, group: ResponseGroup) -> str:
    """The effect with its interval; of several titles the least and the largest, and how many are beyond the margin."""
    found = [(m.title, m.shown) for m in group.members if isinstance(m.shown, Effect)]
    most = max((e for _, e in found), key=lambda e: abs(e.estimate))
    same = [(t, e) for t, e in found if (e.factors, e.levels) == (most.factors, most.levels)]
    alike = sorted(same, key=lambda pair: abs(pair[1].estimate))
    measure, name = material.average.measure, effect_name(material.study, most)
    if len(alike) == 1:
        where = f"in {material.title_label(alike[0][0])}, " if len(found) > 1 else ""
        return f"{where}{sentences.effect(most, name, measure)}"
    ends = [f"{sentences.change(e.estimate, e.se, measure)} ({material.title_label(t)})" for t, e in (alike[0], alike[-1])]
    beyond = sum(e.verdict in BEYOND for _, e in alike)
    return f"{name}: {ends[0]} to {ends[1]}, surely beyond the margin in {beyond or 'none'} of {len(alike)}"


def _of_title(material: Material, group: ResponseGroup, member: Member, found: Comparison) -> str:
    """`most under B, Night Ferry: behind beyond the margin (20 to 23 %)`; without the title where it is the only one."""
    return f"{_where(material, group, member, found)} {sentences.phrase(found, material.average.measure)}"


def _where(material: Material, group: ResponseGroup, member: Member, found: Comparison) -> str:
    under = f"under {material.setup_label(found.setup)}"
    return under if len(group.members) == 1 else f"most in {material.title_label(member.title)}, {under}"


def _most(members: Sequence[Member]) -> Member:
    return max(members, key=lambda m: abs(m.shown.estimate))


def _comparison(member: Member) -> Comparison:
    if isinstance(member.shown, Comparison):
        return member.shown
    raise TypeError("a group of this kind is shown by comparisons")


def _reach(found: Comparison) -> float:
    return max(abs(found.inner.low), abs(found.inner.high))


def _count(material: Material, group: ResponseGroup, one: str, many: str) -> str:
    """`Ironvale is`; `3 titles (Ironvale, Night Ferry and Under Glass) are`."""
    names = _names(material, group.titles)
    return f"{names} {one}" if len(group.titles) == 1 else f"{len(group.titles)} titles ({names}) {many}"


def _names(material: Material, titles: Sequence[str]) -> str:
    return sentences.named([material.title_label(t) for t in titles])


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _level_label(material: Material, factor: str, level: str) -> str:
    found = {(f.name, v.name): v.label for f in material.study.factors for v in f.levels}
    return found.get((factor, level), level)
