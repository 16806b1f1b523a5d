"""Power drawn: what it comes to under each setup, and what can be judged of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from evenhand.judging.advice.model import PowerUse
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Judgement, MeasureJudgement, Row
from evenhand.measures.model import Better, Measure, Scale

POWER: Final = Measure(
    key="power",
    label="Power drawn",
    unit="watts",
    better=Better.LOWER,
    scale=Scale.LOG,
    margin=0.05,
    help="Mean power drawn while the scene ran, as the person logged it.",
    source="the study's own table",
)

Watts = Mapping[tuple[str, str], float]


def power_use(watts: Watts, judgement: Judgement, setup: str) -> PowerUse | None:
    """What a setup draws at the titles that have it under this setup and the baseline; None where no title has both."""
    base = judgement.design.baseline
    titles = [t for t in judgement.titles if (t, setup) in watts and (t, base) in watts]
    if not titles:
        return None
    own = np.array([watts[t, setup] for t in titles])
    change = np.log(own / np.array([watts[t, base] for t in titles]))
    rates = {c.title: c.value for c in judgement.measures["average"].cells if c.setup == setup} if _rated(judgement) else {}
    energy = [np.log(w / rates[t]) for w, t in zip(own, titles, strict=True) if t in rates]
    return PowerUse(
        watts=float(own.mean()),
        change=float(change.mean()),
        spread=float(change.std(ddof=1)) if len(titles) > 1 else None,
        energy=float(np.exp(np.mean(energy))) if energy else None,
        titles=len(titles),
    )


def judged_power(by_visit: Mapping[tuple[str, str, int], float], design: Design) -> MeasureJudgement | None:
    """The verdicts on power, by the rules that all measures have, where it was logged visit by visit; else None."""
    rows = [Row(t, s, visit, 1, POWER.key, value) for (t, s, visit), value in by_visit.items() if s in design.setups]
    if not rows:
        return None
    margins = {POWER.key: design.margins[POWER.key]} if POWER.key in design.margins else {}
    judged = judge(rows, replace(design, measures=(POWER,), margins=margins))
    return judged.measures.get(POWER.key)


def _rated(judgement: Judgement) -> bool:
    return "average" in judgement.measures
