"""Where a number comes from: a run down to its frames, a cell down to its visits, a title down to its variances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand import __version__
from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.judging.model import Cell, Comparison, Interval, MeasureJudgement
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Scale
from evenhand.measures.uncertainty import run_interval
from evenhand.steps.documents import ExplainDocument, Step, encode
from evenhand.steps.judge import check_measures
from evenhand.steps.runs import StudyRun
from evenhand.steps.standing import find_run
from evenhand.steps.study import Opened, open_study
from evenhand.units import number, percent
from evenhand.wording import counted, listed, nearest
from evenhand.writeup import sentences
from evenhand.writeup.model import Section, Table


@dataclass(frozen=True, slots=True)
class Explained:
    """The derivation, step by step."""

    asked: str
    measure: str
    steps: tuple[Step, ...]

    @property
    def sections(self) -> tuple[Section, ...]:
        """The same for a terminal."""
        rows = tuple((s.what, s.formula, s.value) for s in self.steps)
        label = CATALOGUE[self.measure].label
        table = Table(("step", "how", "value"), rows, (False, False, False))
        return (Section("explain", f"{self.asked}: where its {label} comes from", tables=(table,)),)


def explain(folder: Path, what: str, measure: str = "average") -> Explained:
    """Explain a run (title[/scene]/setup/vN/rN), a cell (title/setup) or a title. Raises UsageError where it is not there."""
    check_measures((measure,))
    opened = open_study(folder)
    judged = opened.outcome.shown.measures.get(measure)
    parts = what.strip().split("/")
    if len(parts) >= 4:
        return Explained(what, measure, _run(folder, opened, what, measure))
    if judged is None:
        what = f"{measure} was not judged in this study"
        raise UsageError(Problem("unknown-measure", what, "--measure", "name another measure"))
    title = _known(parts[0], opened.outcome.shown.titles, "title")
    if len(parts) == 1:
        return Explained(what, measure, _title(judged, title))
    setup = _known(parts[1], opened.outcome.shown.design.setups, "setup")
    return Explained(what, measure, _cell(opened, judged, title, setup))


def as_json(found: Explained) -> str:
    """The derivation as a document for programs."""
    return encode(ExplainDocument("evenhand-explain-1", __version__, found.asked, found.measure, found.steps))


def _known(name: str, known: Sequence[str], kind: str) -> str:
    if name in known:
        return name
    like = nearest(name, known)
    do = f"did you mean {like}?" if like else f"name one of {listed(list(known), 'or')}"
    raise UsageError(Problem("no-such-run", f"there is no {kind} {name!r} in this study", "explain", do))


def _run(folder: Path, opened: Opened, what: str, measure: str) -> tuple[Step, ...]:
    with Book.open(folder) as book:
        record = find_run(book, what)
    run = next((r for r in opened.outcome.runs if r.key == record.key), None)
    if run is None:
        gone = f"study.toml no longer names {what}"
        raise UsageError(Problem("no-such-run", gone, "explain", "add it to study.toml again"))
    ms = run.cut.counted.ms
    row = CATALOGUE[measure]
    decided = f"{run.standing} by {run.decided.by}: {run.decided.why}" if run.decided else "kept: nobody decided otherwise"
    slowest = ", ".join(number(v, 2) for v in sorted(ms.tolist(), reverse=True)[:5])
    steps = [
        Step("log", "as it came, kept under its SHA-256", f"{run.source}; {run.sha256}"),
        Step("frames", "what the reader understood", run.account),
        Step("start of the scene", "the same rule for all setups", f"frame {run.cut.start.frame + 1}: {run.cut.start.why}"),
        Step(
            "stretch that counts", "fixed once for the scene", f"frames {run.cut.first + 1} to {run.cut.last} of {len(run.whole)}"
        ),
        Step("lag", "content later (+) or earlier than the rule says", f"{number(run.cut.lag_s, 3)} s"),
        Step("counted", "N frames, D = sum of their durations", f"N = {len(ms)}, D = {number(float(ms.sum()), 3)} ms"),
        Step("slowest frames", "the five longest durations", f"{slowest} ms"),
        Step(row.label, row.help, f"{number(run.measures.values[measure], 4)} {row.unit}"),
        *_tail(run, measure),
        *_within(run, measure),
        *[Step("flag", f.check, f.sentence) for f in opened.outcome.screening.of(run.key)],
        Step("standing", "the latest decision counts", decided),
    ]
    return tuple(steps)


def _tail(run: StudyRun, measure: str) -> tuple[Step, ...]:
    if measure not in run.measures.tail_counts:
        return ()
    short = "; too few to state for one run, the visit's frames are put together" if measure in run.measures.too_short else ""
    return (Step("tail", "frames that decide it", f"{run.measures.tail_counts[measure]}{short}"),)


def _within(run: StudyRun, measure: str) -> tuple[Step, ...]:
    """How firmly this one run pins the number down; no verdict rests on it."""
    low, high, block = run_interval(run.cut.counted, measure)
    value = f"{number(low, 3)} to {number(high, 3)} (mean block {number(block, 1)} frames)"
    return (Step("within-run interval", "stationary bootstrap, 95 %; not the uncertainty of the setup", value),)


def _cell(opened: Opened, judged: MeasureJudgement, title: str, setup: str) -> tuple[Step, ...]:
    key, unit = judged.measure.key, judged.measure.unit
    runs = [r for r in opened.outcome.runs if (r.key.title, r.key.setup) == (title, setup)]
    steps = [
        Step(
            str(r.key),
            "counts" if r.counts else f"does not count: {'warm-up' if r.warm_up else r.standing}",
            _value(r, key, unit),
        )
        for r in runs
    ]
    cell = next((c for c in judged.cells if (c.title, c.setup) == (title, setup)), None)
    if cell is None:
        return (*steps, Step("cell", "no run counts", "–"))
    return (*steps, *_visits(cell, judged, unit))


def _value(run: StudyRun, key: str, unit: str) -> str:
    return f"{number(run.measures.values[key], 3)} {unit}"


def _visits(cell: Cell, judged: MeasureJudgement, unit: str) -> list[Step]:
    kind = "geometric mean" if judged.measure.scale is Scale.LOG else "mean"
    steps = [
        Step(f"visit mean {i}", f"{kind} of {counted(n, 'run')}", f"{number(mean, 3)} {unit}")
        for i, (mean, n) in enumerate(zip(cell.visit_means, cell.visit_runs, strict=True), start=1)
    ]
    steps.append(Step("cell", f"{kind} of {counted(cell.visits, 'visit mean')}", f"{number(cell.value, 3)} {unit}"))
    around = f"{number(cell.interval_low, 3)} to {number(cell.interval_high, 3)} {unit}"
    how = "from the visits, pointwise" + (", rounds taken out" if judged.rounds_used else "")
    steps.append(Step("its interval", how, around))
    return steps


def _title(judged: MeasureJudgement, title: str) -> tuple[Step, ...]:
    noise, scale = judged.noise, judged.measure.scale.value
    steps = [
        Step("scale", "on which values are compared", scale),
        Step("rounds", "mean of a round over titles and setups taken out", "yes" if judged.rounds_used else "no"),
        Step("shift of a visit, all titles", "standard deviation, from what titles share", _sd(noise.shift, noise.shift_df)),
        Step(
            "this title's own, raw", "standard deviation of what is left", _sd(noise.title.get(title), noise.title_df.get(title))
        ),
        Step(
            "this title's own, moderated",
            f"shared between titles (Smyth 2004), prior degrees of freedom {number(noise.prior_df, 1)}",
            _sd(noise.title_moderated.get(title), None),
        ),
        Step("run to run", "within a visit, pooled", _sd(noise.run, noise.run_df)),
    ]
    for c in (c for c in judged.comparisons if c.title == title):
        steps += _comparison(c, judged)
    return tuple(steps)


def _sd(value: float | None, df: float | None) -> str:
    if value is None:
        return "cannot be told"
    return number(value, 5) if df is None else f"{number(value, 5)} on {number(df, 1)} degrees of freedom"


def _comparison(c: Comparison, judged: MeasureJudgement) -> list[Step]:
    name = f"{c.setup} against {c.against}"
    interval = f"{number(c.simultaneous.low, 5)} to {number(c.simultaneous.high, 5)}"
    pair = f"{number(c.inner.low, 5)} to {number(c.inner.high, 5)}"
    return [
        Step(name, f"difference of cells on the scale ({judged.measure.scale.value})", number(c.estimate, 5)),
        Step("  standard error", "shift and own parts over visits", f"{number(c.se, 5)}, {number(c.df, 1)} degrees of freedom"),
        Step(f"  {_confidence(c.simultaneous)}, all pairs at once", "estimate ± max-t quantile × standard error", interval),
        Step(f"  {_confidence(c.inner)}, this pair", "two one-sided tests at 5 %", f"{pair}; margin ±{number(c.margin, 5)}"),
        Step("  verdict", "decided from these two intervals", sentences.phrase(c, judged.measure)),
        *[Step("  doubt", "why to trust it less", doubt) for doubt in c.doubts],
    ]


def _confidence(interval: Interval) -> str:
    return percent(100 * interval.confidence, 0)
