"""What `--json` prints: the documents, each with a name and number of its form, and their JSON Schemas.

Numbers that do not exist (no degrees of freedom, a measure that cannot be stated) are null.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import msgspec

from evenhand.bench.model import BenchAccount, Difference, Proof, Snapshot, Waiver
from evenhand.bench.processor_sets import ProcessorSets
from evenhand.judging.advice.model import Recommendation
from evenhand.judging.model import Disagreement, Look, LowDefinitions, MeasureJudgement, Precision, Thinning, TitleDependence
from evenhand.planning.model import Caution, DatedVisit, Deadline, Forgotten, Plan, Progress, Setting, Use, VisitLeft
from evenhand.rehearsal.model import NextVisits, OpenVerdict, Rehearsal, Way
from evenhand.screening.model import Flag
from evenhand.steps.responses import GroupEntry
from evenhand.study.model import RunKey, Sealing


@dataclass(frozen=True, slots=True)
class RunStanding:
    """One run, whether it counts, and who decided so. framed : it came as frames; a result without frames no check has seen."""

    run: RunKey
    standing: str
    by: str | None
    why: str | None
    proven: bool
    framed: bool


@dataclass(frozen=True, slots=True)
class ScreenDocument:
    """Answer of `evenhand screen --json`. protocol : what must be known of protocol and bench beside it."""

    form: str
    version: str
    runs: tuple[RunStanding, ...]
    flags: tuple[Flag, ...]
    untold: tuple[str, ...]
    protocol: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JudgeDocument:
    """Answer of `evenhand judge --json`. Estimates are on each measure's own scale (natural logarithm or difference).

    groups : titles that respond alike in the average and the study's low. definitions : each low under all its definitions.
    dependence : of the verdicts over titles on which titles are in them. advice : which setup to choose, and why. protocol : how
    it stands to its seals. look : which of the planned looks this is, at whose confidence everything is stated; precision :
    against what recording stops at. bench : what snapshots say of the visits, and which comparisons are stale.
    """

    form: str
    version: str
    question: str
    baseline: str
    low: str
    setups: tuple[str, ...]
    titles: tuple[str, ...]
    confidence: float
    visits: int
    runs: int
    unproven_runs: int
    unscreened_runs: int
    one_visit: bool
    measures: Mapping[str, MeasureJudgement]
    disagreements: tuple[Disagreement, ...]
    notes: tuple[str, ...]
    groups: tuple[GroupEntry, ...]
    definitions: tuple[LowDefinitions, ...]
    dependence: TitleDependence | None
    advice: Recommendation | None
    protocol: Sealing
    look: Look
    precision: Precision | None
    bench: BenchAccount


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a derivation: what it is, the formula in words, and its value as printed.

    part : under which heading it stands. put_in : the formula with the numbers of earlier steps put in, where it is arithmetic.
    number : the value with all its digits, on the measure's scale where nothing else is said; None where it is no number.
    """

    what: str
    formula: str
    value: str
    part: str = ""
    put_in: str = ""
    number: float | None = None


@dataclass(frozen=True, slots=True)
class ExplainDocument:
    """Answer of `evenhand explain --json`. protocol : as in `ScreenDocument`."""

    form: str
    version: str
    asked: str
    measure: str
    steps: tuple[Step, ...]
    protocol: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RehearseDocument:
    """Answer of `evenhand rehearse --json`. Spreads and half-widths are on each measure's own scale, chances are fractions."""

    form: str
    version: str
    question: str
    rehearsal: Rehearsal


@dataclass(frozen=True, slots=True)
class PlanDocument:
    """Answer of `evenhand plan --json`. kept : the plan is the book's. visits : with their times by the wall clock. by_then : the
    rehearsal of what is done by the deadline. ways : all titles in every visit, and in parts.
    """

    form: str
    version: str
    question: str
    plan: Plan
    kept: bool
    visits: tuple[DatedVisit, ...]
    deadline: Deadline | None
    forgotten: tuple[Forgotten, ...]
    rehearsal: Rehearsal
    by_then: Rehearsal | None
    ways: tuple[Way, Way] | None


@dataclass(frozen=True, slots=True)
class InspectDocument:
    """Answer of `evenhand inspect --json`. source : "this PC", or a file. proof, visit, since : None or empty without a study.

    visit : (setup, number) that the snapshot belongs to. since : what changed since the snapshot before.
    """

    form: str
    version: str
    source: str
    snapshot: Snapshot
    processor_sets: ProcessorSets
    proof: Proof | None
    visit: tuple[str, int] | None
    proven: bool
    since: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class NextDocument:
    """Answer of `evenhand next --json`. due : the visit to begin or to go on with, None where all is done. expected : the run
    that comes next. settings : of a visit to begin; cautions : those not said before. minutes : left in all.
    """

    form: str
    version: str
    question: str
    due: VisitLeft | None
    expected: RunKey | None
    settings: tuple[Setting, ...]
    cautions: tuple[Caution, ...]
    progress: Progress
    minutes: float


@dataclass(frozen=True, slots=True)
class ChangesDocument:
    """Answer of `evenhand changes --json`. waivers : changes that a person said do not matter."""

    form: str
    version: str
    question: str
    bench: BenchAccount
    waivers: tuple[Waiver, ...]


@dataclass(frozen=True, slots=True)
class HoursLeftDocument:
    """Answer of `evenhand plan --hours-left --json`. next_look : rounds at which verdicts are looked at next. opened : what is
    open so far, next_visits : which setups deserve the next visits; none where nothing can be judged yet. then : the rehearsal of
    the whole rounds that are done after the hours, None with fewer than two.
    """

    form: str
    version: str
    question: str
    progress: Progress
    use: Use
    next_look: int | None
    opened: tuple[OpenVerdict, ...]
    next_visits: NextVisits | None
    then: Rehearsal | None


@dataclass(frozen=True, slots=True)
class ThinDocument:
    """Answer of `evenhand thin --json`. Errors are in margins, shares are fractions."""

    form: str
    version: str
    question: str
    thinning: Thinning


@dataclass(frozen=True, slots=True)
class WatchLine:
    """What became of one file of a watched folder; a line of JSON each.

    became : kept, doubtful (taken as a run, and to be recorded again), already there, unmatched, refused. run : None where it is
    none. reasons : slugs of checks, likeliest first. filled, planned : runs of the scene in this visit. average, low : frames
    per second. replaces : a run that is to be redone because its log went on. line : the same for people.
    """

    form: str
    file: str
    became: str
    run: RunKey | None
    reasons: tuple[str, ...]
    filled: int | None
    planned: int | None
    average: float | None
    low: float | None
    replaces: RunKey | None
    line: str


DOCUMENTS: Mapping[str, type] = {
    "screen": ScreenDocument,
    "judge": JudgeDocument,
    "explain": ExplainDocument,
    "rehearse": RehearseDocument,
    "plan": PlanDocument,
    "next": NextDocument,
    "hours-left": HoursLeftDocument,
    "inspect": InspectDocument,
    "changes": ChangesDocument,
    "thin": ThinDocument,
    "watch": WatchLine,
}


Document: TypeAlias = (
    ScreenDocument
    | JudgeDocument
    | ExplainDocument
    | RehearseDocument
    | PlanDocument
    | NextDocument
    | HoursLeftDocument
    | InspectDocument
    | ChangesDocument
    | ThinDocument
    | WatchLine
)


def encode(document: Document) -> str:
    """The document as JSON text."""
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode("utf-8")


def _with_null(node: Any) -> Any:
    """The same schema, every number allowed to be null: that is how NaN and infinity are written."""
    if isinstance(node, dict):
        changed = {key: _with_null(value) for key, value in node.items()}
        if changed.get("type") == "number":
            changed["type"] = ["number", "null"]
        return changed
    return [_with_null(item) for item in node] if isinstance(node, list) else node


def schema(name: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the document of that command. Raises KeyError."""
    made = _with_null(msgspec.json.schema(DOCUMENTS[name]))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}
