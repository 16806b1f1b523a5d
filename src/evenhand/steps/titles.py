"""What depends on which titles are in a study, and which of them to keep, by the average and the study's own low."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.judging.advice.dependence import title_dependence
from evenhand.judging.advice.model import Reason
from evenhand.judging.advice.thinning import KEEP, thin
from evenhand.judging.model import ResponseGroup, Row, Thinning, TitleDependence
from evenhand.steps.advice import preferences_of
from evenhand.steps.runs import rows
from evenhand.steps.verdicts import Outcome, own_low


def dependence_of(outcome: Outcome, groups: Sequence[ResponseGroup] = ()) -> TitleDependence:
    """How the verdicts over titles and the recommendation depend on the titles; no recommendation where none can be told."""
    leading, advice = _leading(outcome), outcome.advice
    told = None
    if advice is not None and advice.reason is not Reason.OPEN:
        told = advice, preferences_of(outcome.study, outcome.inputs)
    table = _table(outcome, {*leading, *(advice.weights if advice else ())})
    return title_dependence(table, outcome.shown, leading, told, groups)


def thinning_of(outcome: Outcome, keep: Sequence[int] = KEEP) -> Thinning:
    """The titles to keep, one choice of each size."""
    leading = _leading(outcome)
    return thin(_table(outcome, set(leading)), outcome.shown, leading, keep)


def _leading(outcome: Outcome) -> tuple[str, ...]:
    wanted = dict.fromkeys(("average", own_low(outcome.study)))
    return tuple(key for key in wanted if key in outcome.shown.measures)


def _table(outcome: Outcome, measures: set[str]) -> list[Row]:
    """The rows that the judgement shown rests on, of these measures."""
    return [row for row in rows(outcome.study, (r for r in outcome.runs if r.counts)) if row.measure in measures]
