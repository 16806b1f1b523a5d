"""From material to a report: plain data, before anything is drawn as a page."""

from __future__ import annotations

from evenhand import wording
from evenhand.writeup.advice_words import advised
from evenhand.writeup.answer import answer, headline
from evenhand.writeup.material import Material
from evenhand.writeup.model import Report, Section
from evenhand.writeup.moments import moment
from evenhand.writeup.sections.bench import bench, protocol
from evenhand.writeup.sections.definitions import definitions
from evenhand.writeup.sections.dependence import dependence
from evenhand.writeup.sections.disagree import disagree
from evenhand.writeup.sections.doubtful import doubtful
from evenhand.writeup.sections.groups import groups
from evenhand.writeup.sections.methods import methods
from evenhand.writeup.sections.noise import noise
from evenhand.writeup.sections.over import over
from evenhand.writeup.sections.recommendation import recommendation
from evenhand.writeup.sections.runs import runs
from evenhand.writeup.sections.sealing import sealing
from evenhand.writeup.sections.sensors import sensors
from evenhand.writeup.sections.stated import stated
from evenhand.writeup.sections.thinning import thinning
from evenhand.writeup.sections.titles import titles


def compose(material: Material) -> Report:
    """The whole report. Charts are drawn on the way, so this is the slow part: about 0.2 s a title."""
    sections: list[Section | None] = [
        recommendation(material),
        over(material),
        noise(material),
        groups(material),
        dependence(material),
        thinning(material),
        *titles(material),
        stated(material),
        sensors(material),
        definitions(material),
        disagree(material),
        doubtful(material),
        bench(material),
        protocol(material),
        sealing(material),
        methods(material),
        runs(material),
    ]
    return Report(
        title=headline(material),
        question=material.study.question,
        answer=(*advised(material), *answer(material)),
        sections=tuple(s for s in sections if s is not None),
        made_at=moment(material.made_at),
        version=material.version,
        marks=marks(material),
    )


def marks(material: Material) -> tuple[str, ...]:
    """What must be seen everywhere."""
    own = ["setups unproven"] if material.unproven else []
    own += [f"{wording.counted(material.unseen, 'run')} not screened by frames"] if material.unseen else []
    return tuple(dict.fromkeys((*own, *material.marks)))
