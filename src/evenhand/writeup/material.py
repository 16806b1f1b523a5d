"""Everything a report is made from, as nouns. A step gathers it; nothing in the write-up reaches back to a book or to frames."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from evenhand.bench.model import BenchAccount
from evenhand.charts.model import PaceTrace, SlowCurve
from evenhand.frames.model import Stretch
from evenhand.judging.advice.model import Recommendation
from evenhand.judging.model import (
    Along,
    Disagreement,
    Judgement,
    Look,
    LowDefinitions,
    MeasureJudgement,
    Precision,
    ResponseGroup,
    Thinning,
    TitleDependence,
)
from evenhand.measures.model import Measure, Origin, RunSensors
from evenhand.screening.model import Flag, Screening, Standing, Weight
from evenhand.study.model import RunKey, Sealing, Study
from evenhand.units import NO_BREAK

#: Letters of a label that still stands on one line beside other words on a phone.
LONGEST_UNBROKEN: Final = 18


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One run as the report lists it.

    by, why : of the latest decision about its standing, empty where nobody decided. values : measure key -> number, NaN where
    it cannot be stated. proven : a snapshot confirmed the setup. source, sha256, account : of its log. warm_up : dropped by
    protocol. framed : it came as a log of frames; else as a result, which no check has seen.
    sensors : what they said of it, if they did; remarks : what stands out of that.
    """

    key: RunKey
    standing: Standing
    values: Mapping[str, float]
    frames: int
    seconds: float
    by: str = ""
    why: str = ""
    flags: tuple[Flag, ...] = ()
    proven: bool = False
    source: str = ""
    sha256: str = ""
    account: str = ""
    warm_up: bool = False
    framed: bool = True
    sensors: RunSensors | None = None
    remarks: tuple[str, ...] = ()

    @property
    def counts(self) -> bool:
        """Whether it is part of the analysis shown."""
        return self.standing is Standing.KEPT and not self.warm_up

    @property
    def doubtful(self) -> bool:
        """Whether a check found something that proposes another standing."""
        return any(f.weight is Weight.DOUBTFUL for f in self.flags)


@dataclass(frozen=True, slots=True)
class Material:
    """What a report is made from.

    judgement : of the runs that count. put_back : the same with every set-aside run back, None where none is set aside.
    disagreements : verdicts that another way of doing it gives (beside those that the judgement itself carries).
    traces, curves : (title, scene) -> one per setup; may be empty. along : the same, each setup against the baseline.
    references : one run of each scene that a person plays.
    bench : fact -> value, as a person stated it. proof : what snapshots say of the PC, of each visit, and what changed.
    events : (when, what), decisions and changes in order of time. made_at : ISO 8601. low : key of the study's own low.
    marks : what must be seen everywhere beside "setups unproven", for instance "exploratory". groups : titles that respond alike
    in the average and the study's low. definitions : each low under all its definitions. dependence : of the verdicts over titles
    on which titles are in them. thinning : which titles to keep for the next study, where it was asked. advice : what to choose.
    sealing, look, precision : how the protocol stands to its seals, which of the planned looks this is, how sharp it is
    against what the study stops at; None where there is nothing of the kind.
    """

    study: Study
    judgement: Judgement
    screening: Screening
    runs: tuple[RunEntry, ...]
    made_at: str
    version: str
    low: str
    put_back: Judgement | None = None
    disagreements: tuple[Disagreement, ...] = ()
    traces: Mapping[tuple[str, str], tuple[PaceTrace, ...]] = field(default_factory=dict)
    references: Mapping[tuple[str, str], PaceTrace] = field(default_factory=dict)
    curves: Mapping[tuple[str, str], tuple[SlowCurve, ...]] = field(default_factory=dict)
    stretches: tuple[Stretch, ...] = ()
    events: tuple[tuple[str, str], ...] = ()
    bench: Mapping[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    groups: tuple[ResponseGroup, ...] = ()
    along: Mapping[tuple[str, str], tuple[Along, ...]] = field(default_factory=dict)
    sealing: Sealing | None = None
    look: Look | None = None
    precision: Precision | None = None
    definitions: tuple[LowDefinitions, ...] = ()
    dependence: TitleDependence | None = None
    thinning: Thinning | None = None
    proof: BenchAccount = field(default_factory=BenchAccount)
    advice: Recommendation | None = None

    @property
    def average(self) -> MeasureJudgement:
        """The judgement of the average frame rate, or of the first measure where there is no average."""
        return self.judgement.measures.get("average") or next(iter(self.judgement.measures.values()))

    @property
    def own_low(self) -> MeasureJudgement | None:
        """The judgement of the study's own low, None where it was not judged."""
        return self.judgement.measures.get(self.low)

    @property
    def leading(self) -> tuple[MeasureJudgement, ...]:
        """The measures that lead the report: the average and the study's low."""
        return (self.average,) if self.own_low is None else (self.average, self.own_low)

    @property
    def stated(self) -> tuple[MeasureJudgement, ...]:
        """The measures, beside those that lead, that came as numbers: lows and scores that titles printed."""
        leading = {judged.measure.key for judged in self.leading}
        own = [m for m in self.judgement.measures.values() if m.measure.origin is Origin.STATED]
        return tuple(m for m in own if m.measure.key not in leading)

    def leading_at(self, title: str) -> tuple[MeasureJudgement, ...]:
        """The measures that lead at a title: those that it has of the leading ones, else those that it stated."""
        own = [m for m in self.leading if any(c.title == title for c in m.cells)]
        return tuple(own or [m for m in self.stated if any(c.title == title for c in m.cells)])

    @property
    def unseen(self) -> int:
        """How many runs that count are results without frames, which no check has seen."""
        return sum(not r.framed for r in self.runs if r.counts)

    @property
    def compared(self) -> tuple[str, ...]:
        """Setups other than the baseline, in the study's order."""
        return tuple(s.name for s in self.study.setups if s.name != self.study.baseline)

    @property
    def unproven(self) -> bool:
        """Whether any run that counts was recorded under a setup that no snapshot confirmed."""
        return any(not r.proven for r in self.runs if r.counts)

    def stale(self, setup: str, title: str | None = None) -> str:
        """What follows a verdict against the baseline that mixes visits before and after a change; None = over titles."""
        return ", stale" if self.proof.straddles(setup, self.study.baseline, title) else ""

    def setup_label(self, name: str) -> str:
        """Label of a setup, its name where the study does not know it; a short one is not broken between lines."""
        label = next((s.label for s in self.study.setups if s.name == name), name)
        return label.replace(" ", NO_BREAK) if len(label) <= LONGEST_UNBROKEN else label

    def title_label(self, name: str) -> str:
        """Label of a title, its name where the study does not know it."""
        return next((t.label for t in self.study.titles if t.name == name), name)

    def held(self, title: str) -> tuple[str, ...]:
        """What the checks say of scenes of a title whose runs a frame cap holds, which can make setups look level."""
        capped = (f for f in self.screening.flags if f.check == "capped" and f.weight is Weight.NOTE)
        return tuple(f.sentence for f in capped if any(run.title == title for run in f.covers))

    def measure(self, key: str) -> Measure | None:
        """A judged measure."""
        found = self.judgement.measures.get(key)
        return found.measure if found else None
