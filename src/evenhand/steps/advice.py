"""The recommendation for a study: what its person wants, as the judge's advice takes it."""

from __future__ import annotations

from evenhand.judging.advice.model import Preferences, Recommendation
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.model import Judgement
from evenhand.measures.catalogue import low_key
from evenhand.study.model import Inputs, Setup, Stated, Study

#: Weights of what the study does not name.
USUAL = {"average": 1.0, "low": 1.0}


def advice_of(study: Study, judgement: Judgement, inputs: Inputs) -> Recommendation | None:
    """What to choose; None where no measure that has weight was judged."""
    return recommend(judgement, preferences_of(study, inputs))


def preferences_of(study: Study, inputs: Inputs) -> Preferences:
    """What counts for the person, and what the levels bring and give up.

    Of a setup other than the baseline only the levels in which it differs from it are told.
    """
    weights = USUAL | dict(study.weights)
    power = weights.pop("power", 0.0)
    low = weights.pop("low")
    said = {s.name: _stated(study, s) for s in study.setups}
    return Preferences(
        measures={key: w for key, w in (weights | {low_key(study.low): low}).items() if w > 0},
        power=power,
        brings={name: tuple(b for _, b in pairs if b) for name, pairs in said.items()},
        gives_up={name: tuple(g for g, _ in pairs if g) for name, pairs in said.items()},
        inputs=inputs,
    )


def _stated(study: Study, setup: Setup) -> list[tuple[Stated | None, Stated | None]]:
    """(gives up, brings) of the setup and of its levels."""
    base = study.setup(study.baseline)
    own = [
        level
        for factor in study.factors
        for level in factor.levels
        if level.name == setup.levels.get(factor.name) and (setup is base or base.levels.get(factor.name) != level.name)
    ]
    return [(setup.gives_up, setup.brings), *((level.gives_up, level.brings) for level in own)]
