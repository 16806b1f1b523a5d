"""The next thing to do, in words: what to set and what changes, what to take care of, what to record, what follows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.planning.model import Caution, Lost, Progress, SceneLeft, Setting, Thin, VisitLeft
from evenhand.study.model import Apply, Study
from evenhand.wording import counted, listed, quoted
from evenhand.writeup.model import Section
from evenhand.writeup.planned import minutes_words

APPLIED: Final = {
    Apply.FIRMWARE: "in the firmware",
    Apply.PARTS: "by a part of the PC",
    Apply.MANUAL: "by hand in the system or a driver",
    Apply.COMMAND: "by a command",
}
#: Visits after the next one that are named.
SHOWN: Final = 4


@dataclass(frozen=True, slots=True)
class Next:
    """What comes next. settings : of a visit that is to be begun. before : setup that the PC is in, None where nothing tells.

    cautions : those not said before. planned_anew : why the plan was made just now.
    """

    folder: Path
    study: Study
    progress: Progress
    settings: tuple[Setting, ...]
    before: str | None
    cautions: tuple[Caution, ...] = ()
    planned_anew: str = ""


def account(found: Next) -> tuple[Section, ...]:
    """Every section that has something to say."""
    due = found.progress.due
    if due is None:
        heading = f"Nothing is left to record: all {counted(found.progress.visits, 'visit')} of the plan are done"
        judge = f"Now: evenhand judge {quoted(found.folder)}"
        return (Section("next", heading, paragraphs=(judge,), items=tuple(_losses(found))),)
    head = _going_on(found, due) if due.begun else _to_begin(found, due)
    care = tuple(Section(c.key, c.heading, items=c.sentences) for c in found.cautions)
    return (head, *care, _scenes(found.study, due), _follows(found, due))


def _going_on(found: Next, due: VisitLeft) -> Section:
    runs = sum(s.runs for s in due.scenes)
    heading = f"Go on in {visit_words(found.study, due)}: {counted(runs, 'run')} to record, {minutes_words(due.minutes)}"
    leave = (
        "If the PC was set to something else since, this visit is over: "
        f'evenhand next {quoted(found.folder)} --end "REASON". What it lacks is then planned anew.'
    )
    return Section("next", heading, paragraphs=(leave,))


def _to_begin(found: Next, due: VisitLeft) -> Section:
    heading = f"Next: {visit_words(found.study, due)}, {minutes_words(due.minutes)}"
    items = tuple(setting_words(s, due.anew or found.before is None) for s in found.settings if _changes(found, due, s))
    paragraphs = [f"Planned just now, as {found.planned_anew}."] if found.planned_anew else []
    if due.anew:
        paragraphs.append(
            "The PC is in this setup already. Set it to another one, start it, and set it anew; else the two visits are one."
        )
    elif found.before is not None:
        paragraphs.append(f"The PC is in {found.study.setup(found.before).label} now; to change:")
    else:
        paragraphs.append("To set:")
    begin = f"Then: evenhand next {quoted(found.folder)} --begin (with --elsewhere where the bench is another PC)"
    return Section("next", heading, paragraphs=tuple(paragraphs), items=(*items, begin))


def _changes(found: Next, due: VisitLeft, setting: Setting) -> bool:
    return setting.before is not None or due.anew or found.before is None


def setting_words(setting: Setting, alone: bool = False) -> str:
    """`memory speed: DDR5-6400 instead of DDR5-5200, in the firmware`."""
    instead = f" instead of {setting.before}" if setting.before and not alone else ""
    shows = f"; a snapshot must show: {listed(setting.expects)}" if setting.expects else ""
    return f"{setting.factor}: {setting.level}{instead}, {APPLIED[setting.apply]}{shows}"


def visit_words(study: Study, visit: VisitLeft) -> str:
    """`visit 2 of DDR5-6400 (round 2)`."""
    outside = ", which brings back what was lost" if visit.round is None else f" (round {visit.round})"
    return f"visit {visit.visit} of {study.setup(visit.setup).label}{outside}"


def _scenes(study: Study, due: VisitLeft) -> Section:
    heading = "To record, in this order" if len(due.scenes) > 1 else "To record"
    return Section("scenes", heading, items=tuple(scene_words(study, s) for s in due.scenes))


def scene_words(study: Study, left: SceneLeft) -> str:
    """`Moss & Ember, Clearing at dusk: 2 runs (1080p, medium); from the gate to the pier`."""
    title = study.title(left.title)
    scene = next(s for s in title.scenes if s.name == left.scene)
    name = title.label if scene.label == title.label or scene.name == title.name else f"{title.label}, {scene.label}"
    practice = f", of which {counted(left.practice, 'practice run')} first" if left.practice else ""
    settings = f" ({scene.settings})" if scene.settings else ""
    again = "; lost in an earlier visit" if left.again else ""
    runs = counted(left.runs, "run") if left.runs == left.of else f"{left.runs} of {counted(left.of, 'run')}"
    return f"{name}: {runs}{practice}{settings}{f'; {scene.route}' if scene.route else ''}{again}"


def _follows(found: Next, due: VisitLeft) -> Section:
    progress = found.progress
    visits = len(progress.ahead) + (1 if due.begun else 0)
    heading = (
        f"{progress.over} of {counted(progress.visits, 'visit')} {'is' if progress.over == 1 else 'are'} done; left: "
        f"{counted(visits, 'visit')}, {minutes_words(progress.minutes)}"
    )
    after = [v for v in progress.ahead if v is not due]
    then = [f"then {visit_words(found.study, v)}, {minutes_words(v.minutes)}" for v in after[:SHOWN]]
    if len(after) > SHOWN:
        then.append(f"and {counted(len(after) - SHOWN, 'visit')} more")
    return Section("follows", heading, items=(*then, *_losses(found)))


def _losses(found: Next) -> Iterator[str]:
    by_visit: dict[tuple[str, int, int], list[Lost]] = {}
    for lost in found.progress.lost:
        by_visit.setdefault((lost.setup, lost.visit, lost.into), []).append(lost)
    for (setup, visit, into), scenes in by_visit.items():
        what = listed(list(dict.fromkeys(found.study.title(x.title).label for x in scenes)))
        planned = {(v.setup, v.visit) for v in found.progress.ahead if v.round is not None}
        way = "there, with other titles" if (setup, into) in planned else "of its own, outside the rounds"
        yield (
            f"no run of {what} counts in visit {visit} of {found.study.setup(setup).label}, which is over: recorded anew in "
            f"visit {into} {way}, the cheapest way"
        )
    yield from (_thin(found.study, t) for t in found.progress.thin)


def _thin(study: Study, thin: Thin) -> str:
    return (
        f"{study.title(thin.title).label} has {thin.runs} of {counted(thin.of, 'run')} in visit {thin.visit} of "
        f"{study.setup(thin.setup).label}, which is over; left so, as a run recorded now would be another visit's"
    )
