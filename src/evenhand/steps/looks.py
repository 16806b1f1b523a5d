"""Which look at a study this is, and whether it is sharp enough to stop."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from statistics import median_low

from evenhand.judging.looks import look_at, precision
from evenhand.judging.model import Judgement, Look, Precision
from evenhand.steps.runs import StudyRun
from evenhand.study.model import Study


def look_of(study: Study, counting: Iterable[StudyRun]) -> Look:
    """The look that the runs that count are."""
    planned = study.protocol.looks or (study.protocol.visits,)
    return look_at(tuple(visits_in(counting).values()), planned, study.protocol.spending, study.confidence)


def visits_in(runs: Iterable[StudyRun]) -> Mapping[str, int]:
    """Visits of each setup that has any: as many as half of its scenes have, so that a lost log does not undo a visit."""
    seen: dict[str, dict[tuple[str, str], set[int]]] = defaultdict(lambda: defaultdict(set))
    for run in runs:
        seen[run.key.setup][run.key.title, run.key.scene].add(run.key.visit)
    return {setup: median_low([len(visits) for visits in scenes.values()]) for setup, scenes in seen.items()}


def precision_of(study: Study, judgement: Judgement, look: Look) -> Precision | None:
    """How sharp the average over titles is against the half-width that the protocol stops at; None without such a rule."""
    average = judgement.measures.get("average")
    if study.protocol.stop_at is None or average is None:
        return None
    against = [o for o in average.over if o.against == study.baseline]
    setups, df = len(judgement.design.setups), average.noise.shift_df
    return precision(against, math.log1p(study.protocol.stop_at), (look.fewest + look.most) / 2, setups, df)
