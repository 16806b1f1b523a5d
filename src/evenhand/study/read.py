"""study.toml to a `Study`: all that is wrong is told at once, each with its line and the way out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from evenhand.errors import StudyError
from evenhand.study.agreement import check_agreement
from evenhand.study.draft import Draft, Findings, read_draft
from evenhand.study.lines import line_index
from evenhand.study.model import (
    Apply,
    Costs,
    Factor,
    IntervalMeaning,
    Level,
    LowDefinition,
    Pace,
    Protocol,
    Rounds,
    Scene,
    Score,
    Setup,
    Spending,
    Study,
    Title,
)
from evenhand.study.setups import all_setups, default_label
from evenhand.study.source import parse_toml, study_source


def read_study(path: Path) -> Study:
    """The study that the file at `path` states. Raises StudyError with every problem found."""
    return parse_study(study_source(path), str(path))


def parse_study(text: str, name: str) -> Study:
    """The study that `text` states; `name` is what errors call the file. Raises StudyError with every problem found."""
    text = text.removeprefix("\ufeff")
    raw = parse_toml(text, name)
    findings = Findings(name, line_index(text))
    draft = read_draft(raw, findings)
    check_agreement(draft, findings)
    if problems := findings.problems():
        raise StudyError(problems)
    return _study(draft)


def _study(draft: Draft) -> Study:
    (head,) = draft.below["study"]
    factors = tuple(_factor(d) for d in draft.below["factor"])
    setups = tuple(_setup(d, factors) for d in draft.below["setup"]) or all_setups(factors)
    kinds = {"low": LowDefinition, "interval": IntervalMeaning}
    return Study(
        setups=setups,
        titles=tuple(_title(d) for d in draft.below["title"]),
        factors=factors,
        margins=_all_values(draft.below["margins"]),
        weights=_all_values(draft.below["weights"]),
        inputs=_all_values(draft.below["inputs"]),
        costs=Costs(**_all_values(draft.below["costs"])),
        protocol=_protocol(draft.below["protocol"]),
        **{"baseline": setups[0].name, **_typed(head, kinds)},
    )


def _all_values(drafts: Sequence[Draft]) -> dict[str, Any]:
    return {key: value for draft in drafts for key, value in draft.values.items()}


def _typed(draft: Draft, kinds: dict[str, Any]) -> dict[str, Any]:
    """The values given, those of `kinds` as members of their enum."""
    return {key: kinds[key](value) if key in kinds else value for key, value in draft.values.items()}


def _factor(draft: Draft) -> Factor:
    levels = tuple(Level(**_labelled(level)) for level in draft.below["level"])
    return Factor(**{**_labelled(draft), **_typed(draft, {"apply": Apply})}, levels=levels)


def _labelled(draft: Draft) -> dict[str, Any]:
    return {"label": draft.name, **draft.values}


def _setup(draft: Draft, factors: Sequence[Factor]) -> Setup:
    stated = draft.get("levels") or {}
    levels = [level for factor in factors for level in factor.levels if level.name == stated[factor.name]]
    ordered = {factor.name: stated[factor.name] for factor in factors}
    label = draft.get("label") or default_label(draft.name, levels)
    return Setup(draft.name, label, ordered, draft.get("gives_up"), draft.get("brings"), draft.get("minutes"))


def _title(draft: Draft) -> Title:
    label = draft.get("label") or draft.name
    stated = {key: value for key, value in _typed(draft, {"score": Score}).items() if key not in ("name", "label")}
    scenes = tuple(Scene(**{"label": d.name, **_typed(d, {"pace": Pace})}) for d in draft.below["scene"])
    return Title(draft.name, label, scenes or (Scene(draft.name, label),), **stated)


def _protocol(drafts: Sequence[Draft]) -> Protocol:
    kinds = {"rounds": Rounds, "spending": Spending}
    given = {key: value for draft in drafts for key, value in _typed(draft, kinds).items()}
    return Protocol(**({"visits": given["looks"][-1]} if given.get("looks") else {}) | given)
