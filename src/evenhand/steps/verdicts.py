"""Judge a set of runs in every way that a reader may ask for: as decided, with set-aside runs put back, without doubtful ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from evenhand.judging.advice.model import Recommendation
from evenhand.judging.compare import disagreements
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Disagreement, Judgement, Look, Precision
from evenhand.measures.catalogue import CATALOGUE, FRAMED, low_key
from evenhand.screening.model import Screening
from evenhand.steps.advice import advice_of
from evenhand.steps.looks import look_of, precision_of
from evenhand.steps.runs import StudyRun, checked, rows
from evenhand.study.model import Inputs, Rounds, Study

ROUND_TERM = {Rounds.AUTO: None, Rounds.YES: True, Rounds.NO: False}


@dataclass(frozen=True, slots=True)
class Outcome:
    """All that was found.

    shown : what the decisions so far give. put_back : with every set-aside run back, None where none is set aside.
    without_doubtful : with every doubtful run left out, None where none is. Differences between them are in `disagreements`.
    look : which look at the study this is; all of it is judged at its confidence. precision : against what the study stops at.
    inputs : what was measured beside the frames. advice : which setup to choose, by what is shown.
    """

    study: Study
    runs: tuple[StudyRun, ...]
    screening: Screening
    shown: Judgement
    put_back: Judgement | None
    without_doubtful: Judgement | None
    disagreements: tuple[Disagreement, ...]
    look: Look
    precision: Precision | None = None
    inputs: Inputs = field(default_factory=Inputs)
    advice: Recommendation | None = None


def design_of(study: Study, runs: Sequence[StudyRun] = ()) -> Design:
    """What the judge must know of the study. runs : whose measures are judged; without any, those that frames give."""
    own = dict(study.margins)
    given = {key for run in runs for key in run.measures.values} or set(FRAMED)
    return Design(
        setups=tuple(s.name for s in study.setups),
        baseline=study.baseline,
        measures=tuple(measure for key, measure in CATALOGUE.items() if key in given),
        levels={s.name: dict(s.levels) for s in study.setups if s.levels},
        factors={f.name: tuple(level.name for level in f.levels) for f in study.factors},
        values=_values(study),
        margins=own,
        weights={t.name: t.weight for t in study.titles},
        confidence=study.confidence,
        rounds=ROUND_TERM[study.protocol.rounds],
    )


def _values(study: Study) -> dict[str, dict[str, float]]:
    """The numbers of those factors whose levels all are numbers."""
    known = {f.name: {level.name: level.value for level in f.levels if level.value is not None} for f in study.factors}
    return {f.name: known[f.name] for f in study.factors if len(known[f.name]) == len(f.levels)}


def own_low(study: Study) -> str:
    """The measure that the study calls its low."""
    return low_key(study.low)


def outcome(study: Study, runs: Sequence[StudyRun], inputs: Inputs | None = None) -> Outcome:
    """Screen the runs, judge those that count, judge again in the other ways, and say what to choose. Raises JudgingError."""
    screening = checked(study, runs)
    counting = [r for r in runs if r.counts]
    look = look_of(study, counting)
    design = replace(design_of(study, runs), confidence=look.confidence, inner=look.inner)
    shown = judge(rows(study, counting), design)
    candidates = [r for r in runs if not r.warm_up]
    put_back = judge(rows(study, candidates), design) if len(candidates) > len(counting) else None
    doubtful = set(screening.doubtful())
    firm = [r for r in counting if r.key not in doubtful]
    without = judge(rows(study, firm), design) if 0 < len(firm) < len(counting) else None
    found: tuple[Disagreement, ...] = ()
    if put_back:
        found += disagreements(shown, put_back, "with every set-aside run put back")
    if without:
        found += disagreements(shown, without, "without the doubtful runs")
    sharp = precision_of(study, shown, look)
    beside = inputs or Inputs()
    advice = advice_of(study, shown, beside)
    return Outcome(study, tuple(runs), screening, shown, put_back, without, found, look, sharp, beside, advice)
