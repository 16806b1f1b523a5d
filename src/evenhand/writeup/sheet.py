"""The run sheet: a document to print, one page a visit, with boxes to tick and room to write.

The same way as the report: first plain data, then a template without logic; everything printed is escaped.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from evenhand import __version__
from evenhand.planning.model import Caution, DatedVisit, Plan, PlannedScene, Setting
from evenhand.study.model import Scene, Study, Title
from evenhand.units import number
from evenhand.wording import counted, listed
from evenhand.writeup.next_words import APPLIED
from evenhand.writeup.page import TEMPLATES, fonts
from evenhand.writeup.planned import clock, date_words, minutes_words, moment

#: Stands at the box of a run that never counts.
PRACTICE: Final = "P"


@dataclass(frozen=True, slots=True)
class SheetScene:
    """A row. scene : empty where the title has one. runs : what stands at each box: P for practice, then the runs' numbers.

    under : settings, length and how it is played.
    """

    title: str
    scene: str
    under: str
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetSetting:
    """A line to tick: what is set to what, how, from what, and what a snapshot must then show."""

    factor: str
    level: str
    how: str
    before: str
    expects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetVisit:
    """A page. place : which of how many visits. anew : the PC was in this setup already. care : how changes are made. practice :
    some of its runs are practice.
    """

    setup: str
    place: str
    when: str
    minutes: str
    anew: bool
    settings: tuple[SheetSetting, ...]
    care: str
    scenes: tuple[SheetScene, ...]
    practice: bool


@dataclass(frozen=True, slots=True)
class RunSheet:
    """The whole document. order : a row for each visit: number, when, setup, visit, minutes."""

    question: str
    protocol: str
    notes: tuple[str, ...]
    bench: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    order: tuple[tuple[str, ...], ...]
    visits: tuple[SheetVisit, ...]
    version: str = __version__


def run_sheet(
    study: Study,
    plan: Plan,
    visits: Sequence[DatedVisit],
    settings: Mapping[int, Sequence[Setting]],
    cautions: Sequence[Caution],
) -> RunSheet:
    """The sheet of a plan. settings : place of a visit in the plan -> what is to be set. cautions : of the study's changes."""
    dated = plan.day_minutes is not None
    protocol = study.protocol
    said = (
        f"{counted(len(plan.visits), 'visit')} in {counted(plan.rounds, 'round')}, {minutes_words(plan.minutes)}; "
        f"{counted(protocol.runs, 'run')} of each scene in a visit. Order by seed {plan.seed}."
    )
    return RunSheet(
        question=study.question,
        protocol=said,
        notes=tuple(note for note in (protocol.notes, *plan.notes) if note),
        bench=tuple(study.bench.items()),
        cautions=tuple(cautions),
        order=tuple(_line(study, found, dated) for found in visits),
        visits=tuple(_visit(study, plan, found, settings[found.visit.order], dated) for found in visits),
    )


def render(sheet: RunSheet) -> str:
    """The sheet as one HTML document that needs nothing else; made for A4."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    css = (TEMPLATES / "sheet.css").read_text(encoding="utf-8")
    return environment.get_template("sheet.html.j2").render(sheet=sheet, style=Markup(f"{fonts()}\n{css}"))


def _line(study: Study, found: DatedVisit, dated: bool) -> tuple[str, ...]:
    v = found.visit
    label = f"{study.setup(v.setup).label}{', applied anew' if v.again else ''}"
    return (str(v.order), moment(found.begins) if dated else "", label, str(v.visit), number(math.ceil(v.minutes)))


def _visit(study: Study, plan: Plan, found: DatedVisit, settings: Sequence[Setting], dated: bool) -> SheetVisit:
    v = found.visit
    part = f", part {v.part} of {plan.parts}" if plan.parts > 1 else ""
    return SheetVisit(
        setup=study.setup(v.setup).label,
        place=f"visit {v.visit} of this setup, round {v.round}{part}; {v.order} of {len(plan.visits)}",
        when=f"{date_words(found.begins.date())}, {clock(found.begins)} to {clock(found.ends)}" if dated else "",
        minutes=minutes_words(v.minutes),
        anew=v.again,
        settings=tuple(map(_setting, settings)),
        care=listed(list(dict.fromkeys(APPLIED[s.apply] for s in settings))),
        scenes=tuple(_scene(study, s) for s in v.scenes),
        practice=any(s.warmup_runs for s in v.scenes),
    )


def _setting(setting: Setting) -> SheetSetting:
    return SheetSetting(setting.factor, setting.level, APPLIED[setting.apply], setting.before or "", setting.expects)


def _scene(study: Study, planned: PlannedScene) -> SheetScene:
    title = study.title(planned.title)
    scene = next(s for s in title.scenes if s.name == planned.scene)
    runs = tuple(PRACTICE if r <= planned.warmup_runs else str(r) for r in range(1, planned.runs + 1))
    return SheetScene(title.label, "" if _lone(title) else scene.label, _under(scene), runs)


def _lone(title: Title) -> bool:
    return len(title.scenes) == 1 and title.scenes[0].name == title.name


def _under(scene: Scene) -> str:
    length = [] if scene.seconds is None else [f"{scene.seconds:g} s"]
    cap = [] if scene.cap is None else [f"cap {scene.cap:g}"]
    first = ", ".join([*([scene.settings] if scene.settings else []), *length, *cap])
    return "; ".join(text for text in (first, scene.route) if text)
