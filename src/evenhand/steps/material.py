"""Gather what a report or a short account is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from evenhand import __version__
from evenhand.bench.catalogue import label
from evenhand.bench.model import BenchAccount
from evenhand.book.model import Event
from evenhand.charts.model import PaceTrace, SlowCurve
from evenhand.charts.slow import slow_curve
from evenhand.charts.trace import pace_trace
from evenhand.frames.model import Stretch
from evenhand.judging.groups import response_groups
from evenhand.judging.limits import limits_of
from evenhand.judging.model import Limit
from evenhand.steps.along import scene_differences
from evenhand.steps.definitions import definitions_of
from evenhand.steps.runs import LoggedRun, StudyRun, framed
from evenhand.steps.scenes import scene_name, scene_of
from evenhand.steps.sensed import standing_out
from evenhand.steps.titles import dependence_of, thinning_of
from evenhand.steps.verdicts import Outcome, own_low
from evenhand.study.model import Sealing, Study
from evenhand.writeup import bench_words
from evenhand.writeup.material import Material, RunEntry
from evenhand.writeup.seal_words import marks


def material(
    outcome: Outcome,
    stretches: Mapping[str, Stretch],
    *,
    events: Sequence[Event] = (),
    sealing: Sealing | None = None,
    bench: BenchAccount | None = None,
    pictures: bool = False,
) -> Material:
    """Everything the write-up needs. sealing : None where there is no book, so neither plan nor seal. bench : what snapshots say.

    `pictures` also lines up traces and slow-frame curves.
    """
    runs, remarks = outcome.runs, standing_out(outcome.runs)
    study = replace(outcome.study, confidence=outcome.look.confidence)  # what intervals are said to be
    groups = response_groups(outcome.shown, "average", own_low(study), limits(outcome))
    return Material(
        study=study,
        judgement=outcome.shown,
        screening=outcome.screening,
        runs=tuple(entry(outcome, run, remarks.get(run.key, ())) for run in runs),
        made_at=datetime.now(UTC).isoformat(timespec="seconds"),
        version=__version__,
        low=own_low(study),
        put_back=outcome.put_back,
        disagreements=outcome.disagreements,
        traces=traces(study, runs, stretches) if pictures else {},
        references=references(study, runs, stretches) if pictures else {},
        curves=curves(study, runs) if pictures else {},
        along=scene_differences(study, runs, stretches, outcome.shown) if pictures else {},
        stretches=tuple(stretches.values()),
        events=tuple((e.at, e.text) for e in events),
        bench={label(key): value for key, value in study.bench.items()},
        proof=bench or BenchAccount(),
        marks=(*bench_words.marks(bench or BenchAccount()), *marks(sealing)),
        sealing=sealing,
        look=outcome.look if sealing and not sealing.exploratory else None,
        precision=outcome.precision,
        groups=groups,
        definitions=definitions_of(outcome),
        dependence=dependence_of(outcome, groups),
        thinning=thinning_of(outcome) if pictures else None,
        advice=outcome.advice,
    )


def limits(outcome: Outcome) -> dict[str, tuple[Limit, ...]]:
    """What may limit a title, as far as it was looked at."""
    average = outcome.shown.measures.get("average")
    load = outcome.inputs.graphics_load
    return limits_of(outcome.study, average, outcome.screening, load) if average else {}


def entry(outcome: Outcome, run: StudyRun, remarks: tuple[str, ...] = ()) -> RunEntry:
    """One run as the report lists it."""
    decided = run.decided
    return RunEntry(
        key=run.key,
        standing=run.standing,
        values=run.measures.values,
        frames=run.measures.frames,
        seconds=run.measures.seconds,
        by=decided.by if decided else "",
        why=decided.why if decided else "",
        flags=outcome.screening.of(run.key),
        proven=run.proven,
        source=run.source,
        sha256=run.sha256,
        account=run.account,
        warm_up=run.warm_up,
        framed=isinstance(run, LoggedRun),
        sensors=run.sensors,
        remarks=remarks,
    )


def traces(
    study: Study, runs: Sequence[StudyRun], stretches: Mapping[str, Stretch]
) -> dict[tuple[str, str], tuple[PaceTrace, ...]]:
    """(title, scene) -> the lined-up pace under each setup, of the runs that count."""
    found = {}
    for place, setups in _by_scene(study, runs).items():
        stretch = stretches[scene_name(setups[0][0].key)]
        found[place] = tuple(
            pace_trace(members[0].key.setup, [r.cut.counted for r in members], stretch.pace, stretch.length) for members in setups
        )
    return found


def references(study: Study, runs: Sequence[StudyRun], stretches: Mapping[str, Stretch]) -> dict[tuple[str, str], PaceTrace]:
    """(title, scene) -> the first run kept, of scenes that a person plays; whoever sets it aside makes the next one the first."""
    found = {}
    for (title, scene), setups in _by_scene(study, runs).items():
        first = setups[0][0]
        if scene_of(study, first.key).route:
            stretch = stretches[scene_name(first.key)]
            found[title, scene] = pace_trace(first.key.setup, [first.cut.counted], stretch.pace, stretch.length)
    return found


def curves(study: Study, runs: Sequence[StudyRun]) -> dict[tuple[str, str], tuple[SlowCurve, ...]]:
    """(title, scene) -> the slow-frame curve under each setup, of the runs that count."""
    return {
        place: tuple(slow_curve(members[0].key.setup, [r.cut.counted for r in members]) for members in setups)
        for place, setups in _by_scene(study, runs).items()
    }


def _by_scene(study: Study, runs: Sequence[StudyRun]) -> dict[tuple[str, str], list[list[LoggedRun]]]:
    """Runs that count and have frames of their own, by scene, then by setup in the study's order."""
    found: dict[tuple[str, str], list[list[LoggedRun]]] = {}
    for title in study.titles:
        for scene in title.scenes:
            own = [r for r in framed(runs) if (r.key.title, r.key.scene) == (title.name, scene.name) and r.counts]
            setups = [[r for r in own if r.key.setup == s.name] for s in study.setups]
            if own:
                found[title.name, scene.name] = [members for members in setups if members]
    return found
