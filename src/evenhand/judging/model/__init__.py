"""The nouns of judging: what is compared, what was found, and how far it can be trusted.

`evenhand.judging.judge(table, design)` takes a plain table and returns a `Judgement`. Nothing here knows a study folder.
All estimates and intervals are on the measure's own scale: natural logarithm of a ratio (Scale.LOG) or a difference
(Scale.DIFFERENCE). "Better is positive" is *not* applied: the sign is that of the value. `Verdict` has the direction applied.
"""

from __future__ import annotations

from evenhand.judging.model.along import Along, Passage
from evenhand.judging.model.definitions import Bearing, DefinedVerdicts, LowDefinitions
from evenhand.judging.model.design import Design, Row
from evenhand.judging.model.found import AgainstBest, Cell, Comparison, Effect, Interval, Noise, OverTitles, TitleCounts, Verdict
from evenhand.judging.model.groups import Limit, LimitKind, Member, Preference, Response, ResponseGroup
from evenhand.judging.model.judgement import Disagreement, Judgement, MeasureJudgement
from evenhand.judging.model.look import Look, Precision
from evenhand.judging.model.pooled import PooledCells
from evenhand.judging.model.titles import (
    GroupAnswer,
    OnTitles,
    OnVisits,
    OverDependence,
    SetupDependence,
    Thinned,
    Thinning,
    TitleDependence,
    Turn,
)
from evenhand.judging.model.trends import Coefficient, Knee, LevelPoint, LevelStep, Trend

__all__ = [
    "AgainstBest",
    "Along",
    "Bearing",
    "Cell",
    "Coefficient",
    "Comparison",
    "DefinedVerdicts",
    "Design",
    "Disagreement",
    "Effect",
    "GroupAnswer",
    "Interval",
    "Judgement",
    "Knee",
    "LevelPoint",
    "LevelStep",
    "Limit",
    "LimitKind",
    "Look",
    "LowDefinitions",
    "MeasureJudgement",
    "Member",
    "Noise",
    "OnTitles",
    "OnVisits",
    "OverDependence",
    "OverTitles",
    "Passage",
    "PooledCells",
    "Precision",
    "Preference",
    "Response",
    "ResponseGroup",
    "Row",
    "SetupDependence",
    "Thinned",
    "Thinning",
    "TitleCounts",
    "TitleDependence",
    "Trend",
    "Turn",
    "Verdict",
]
