"""Whether the parts of a study.toml agree: names that are referred to exist, nothing is said twice, nothing contradicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, product
from math import prod
from typing import Any

from evenhand.study.draft import Draft, Findings
from evenhand.study.names import folded, name_fault
from evenhand.study.setups import MOST
from evenhand.study.values import shown
from evenhand.wording import listed, nearest


def check_agreement(whole: Draft, findings: Findings) -> None:
    """Note every disagreement between tables. Works on what is sound, so one mistake is not told twice."""
    factors, setups, titles = (whole.below[name] for name in ("factor", "setup", "title"))
    for kind, group in [("factor", factors), ("setup", setups), ("title", titles)]:
        _twice(group, kind, findings)
    for factor in factors:
        _factor(factor, findings)
    for title in titles:
        _twice(title.below["scene"], "scene", findings)
    names = _setup_names(factors, setups, findings)
    for setup in setups:
        _levels_of(setup, factors, findings)
    _same_combination(setups, findings)
    _contradicting_facts(factors, setups, findings)
    _baseline(whole.below["study"], names, findings)
    _protocol(whole.below["protocol"], findings)
    _practice(whole.below["title"], whole.below["protocol"], findings)
    _weights(whole.below["weights"], findings)


def _twice(group: Sequence[Draft], kind: str, findings: Findings) -> None:
    """Names that Windows or a person would take for the same; labels that a chart would show twice."""
    names: dict[str, Draft] = {}
    labels: dict[str, Draft] = {}
    for draft in group:
        name, label = draft.name, draft.get("label") or ("" if draft.get("levels") else draft.name)
        first = names.setdefault(folded(name), draft) if name else draft
        if first is not draft:
            same = "" if first.name == name else f" (the other is written {shown(first.name)})"
            what = f"two {kind}s have the name {shown(name)}{same}"
            findings.add("study-duplicate", (*draft.path, "name"), what, "give one of them another name")
        elif label and labels.setdefault(label, draft) is not draft:
            what = f"two {kind}s have the label {shown(label)}"
            findings.add("study-duplicate", (*draft.path, "label"), what, "give one of them another label")


def _factor(factor: Draft, findings: Findings) -> None:
    levels = factor.below["level"]
    _twice(levels, "level", findings)
    if len(levels) == 1:
        what = f"the factor {shown(factor.name)} has one level; what does not vary is no factor"
        findings.add("study-missing", levels[0].path, what, "add a second [[factor.level]], or remove the factor")
    for one, other in combinations(levels, 2):
        for key, says in (("value", "the value"), ("expects", "the same expectations:")):
            if one.get(key) is not None and one.get(key) == other.get(key) and one.get(key) != {}:
                told = f" {one.get(key):g}" if key == "value" else ""
                what = f"the levels {shown(one.name)} and {shown(other.name)} both have {says}{told}"
                do = "they could not be told apart: change one of them"
                findings.add("study-duplicate", (*other.path, key), what.rstrip(":"), do)


def _setup_names(factors: Sequence[Draft], setups: Sequence[Draft], findings: Findings) -> list[str]:
    """Names of all setups, listed or made of levels."""
    if setups:
        return [setup.name for setup in setups if setup.name]
    if not factors:
        do = "add a [[factor]] with its levels, or a [[setup]] for each setting of the PC"
        findings.add("study-missing", (), "there is nothing to compare: neither factors nor setups", do)
        return []
    levels = [[level.name for level in factor.below["level"] if level.name] for factor in factors]
    if prod(len(group) for group in levels) > MOST:
        what = f"the factors make {prod(len(group) for group in levels)} combinations; at most {MOST} can be setups"
        findings.add("study-value", factors[0].path, what, "list the setups that are meant as [[setup]]")
        return []
    names = ["-".join(chosen) for chosen in product(*levels)]
    for name in names:
        fault = name_fault(name) or ("two combinations get that name" if names.count(name) > 1 else None)
        if fault:
            what = f"the combination of levels called {shown(name)} cannot be a setup: {fault}"
            findings.add("study-name", factors[0].path, what, "give the levels other names, or list the setups as [[setup]]")
            break
    return names


def _levels_of(setup: Draft, factors: Sequence[Draft], findings: Findings) -> None:
    stated: Mapping[str, str] = setup.get("levels") or {}
    known = {factor.name: [level.name for level in factor.below["level"]] for factor in factors if factor.name}
    path = (*setup.path, "levels")
    for factor, level in stated.items():
        if factor not in known:
            what = f"the setup {shown(setup.name)} names a factor {shown(factor)}, which there is not"
            findings.add("study-unknown-name", (*path, factor), what, _did_you_mean(factor, list(known), "remove it"))
        elif level not in known[factor]:
            what = f"the factor {shown(factor)} has no level {shown(level)}"
            findings.add("study-unknown-name", (*path, factor), what, _did_you_mean(level, known[factor], "add the level"))
    missing = [factor for factor in known if factor not in stated]
    if missing and "levels" not in setup.values and factors:
        what = f"the setup {shown(setup.name)} does not say its levels of {listed(missing)}"
        example = ", ".join(f'{factor} = "{next(iter(known[factor]), "")}"' for factor in known)
        findings.add("study-missing", setup.path, what, f"add: levels = {{ {example} }}")
    elif missing:
        what = f"the setup {shown(setup.name)} does not say its level of {listed(missing)}"
        findings.add("study-missing", path, what, "a setup has a level of every factor")


def _same_combination(setups: Sequence[Draft], findings: Findings) -> None:
    for one, other in combinations(setups, 2):
        levels = other.get("levels")
        if levels and one.get("levels") == levels:
            what = f"the setups {shown(one.name)} and {shown(other.name)} have the same levels"
            findings.add("study-duplicate", (*other.path, "levels"), what, "change the levels of one, or remove it")


def _contradicting_facts(factors: Sequence[Draft], setups: Sequence[Draft], findings: Findings) -> None:
    """Two factors may not expect different values of the same fact in one setup."""
    for one, other in combinations(factors, 2):
        for a, b in product(one.below["level"], other.below["level"]):
            meet = not setups or any(_has(s, one, a) and _has(s, other, b) for s in setups)
            facts: Mapping[str, Any] = a.get("expects") or {}
            for fact, value in (b.get("expects") or {}).items():
                if meet and fact in facts and facts[fact] != value:
                    what = f"{shown(a.name)} expects {fact} = {shown(facts[fact])}, but {shown(b.name)} expects {shown(value)}"
                    do = "both levels meet in a setup: let only one of them expect it"
                    findings.add("study-contradiction", (*b.path, "expects"), what, do)


def _has(setup: Draft, factor: Draft, level: Draft) -> bool:
    return bool((setup.get("levels") or {}).get(factor.name) == level.name)


def _baseline(study: Sequence[Draft], names: list[str], findings: Findings) -> None:
    for draft in study:
        baseline = draft.get("baseline")
        if baseline and names and baseline not in names:
            do = _did_you_mean(baseline, names, f"the setups are {listed(names[:8])}{' …' if len(names) > 8 else ''}")
            findings.add("study-unknown-name", (*draft.path, "baseline"), f"there is no setup {shown(baseline)}", do)


def _protocol(protocol: Sequence[Draft], findings: Findings) -> None:
    for draft in protocol:
        warm, runs = draft.get("warmup_runs") or 0, draft.get("runs") or 2
        if warm >= runs:
            what = f"of {runs} runs a visit {warm} are warm-up runs, which never count: nothing would be left"
            findings.add("study-contradiction", (*draft.path, "warmup_runs"), what, "make runs larger than warmup_runs")
        looks, visits = draft.get("looks"), draft.get("visits")
        if looks and visits not in (None, looks[-1]):
            what = f"the last look is at {looks[-1]} visits, but {visits} visits are planned"
            findings.add("study-contradiction", (*draft.path, "looks"), what, f"let the last look be at {visits} visits")
        if looks and draft.get("stop_at") is not None:
            what = "a study stops by what its verdicts say at planned looks, or by precision; not by both"
            findings.add("study-contradiction", (*draft.path, "stop_at"), what, "remove looks or stop_at")


def _practice(titles: Sequence[Draft], protocol: Sequence[Draft], findings: Findings) -> None:
    runs = next((draft.get("runs") for draft in protocol if draft.get("runs")), 2)
    for scene in (scene for title in titles for scene in title.below["scene"]):
        practice = scene.get("practice_runs") or 0
        if practice >= runs:
            what = f"of {runs} runs a visit {practice} are practice, which never count: nothing of the scene would be left"
            findings.add("study-contradiction", (*scene.path, "practice_runs"), what, "make runs in [protocol] larger")


def _weights(weights: Sequence[Draft], findings: Findings) -> None:
    for draft in weights:
        played = {"average": 1.0, "low": 1.0, **draft.values, "power": 0.0}
        if not any(played.values()):
            what = "no measure has a weight above 0, so that nothing of how games run would count"
            findings.add("study-contradiction", draft.path, what, "give the average or the low a weight above 0")


def _did_you_mean(name: str, known: Sequence[str], otherwise: str) -> str:
    near = nearest(name, known)
    return f'did you mean "{near}"?' if near else otherwise
