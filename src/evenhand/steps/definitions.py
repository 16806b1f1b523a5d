"""Every low under all its definitions, and what each of them would recommend."""

from __future__ import annotations

from dataclasses import replace

from evenhand.judging.definitions import low_definitions
from evenhand.judging.model import LowDefinitions
from evenhand.measures.catalogue import CATALOGUE, low_key
from evenhand.steps.advice import advice_of
from evenhand.steps.runs import few_frames
from evenhand.steps.verdicts import Outcome
from evenhand.study.model import LowDefinition


def definitions_of(outcome: Outcome) -> tuple[LowDefinitions, ...]:
    """The lows of a study; a recommendation goes with that low of which the study's own is one definition."""
    found = low_definitions(outcome.shown, few_frames(outcome.runs))
    own = low_key(outcome.study.low)
    return tuple(replace(low, recommended=_recommended(outcome, low)) if own in low.measures else low for low in found)


def _recommended(outcome: Outcome, low: LowDefinitions) -> dict[str, str]:
    """Measure key -> setup, where the low has weight in the recommendation."""
    if outcome.advice is None or low_key(outcome.study.low) not in outcome.advice.weights:
        return {}
    named = {}
    for key in low.measures:
        study = replace(outcome.study, low=LowDefinition(CATALOGUE[key].low or ""))
        advice = advice_of(study, outcome.shown, outcome.inputs)
        if advice is not None:
            named[key] = advice.setup
    return named
