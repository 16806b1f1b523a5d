"""What bench work takes beside the obvious: said before it surprises, with minutes and GB where the study states them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from evenhand.planning.model import Forgotten, Plan
from evenhand.study.model import Apply, Study
from evenhand.units import duration_words, number
from evenhand.wording import counted, listed


def forgotten(study: Study, plan: Plan) -> tuple[Forgotten, ...]:
    """Everything of that kind that concerns this study."""
    return tuple(_forgotten(study, plan))


def changes(study: Study, plan: Plan) -> dict[str, int]:
    """Factor -> how often its level differs from that of the visit before."""
    levels = [study.setup(v.setup).levels for v in plan.visits]
    pairs = list(itertools.pairwise(levels))
    return {f.name: sum(a.get(f.name) != b.get(f.name) for a, b in pairs) for f in study.factors}


def _forgotten(study: Study, plan: Plan) -> Iterator[Forgotten]:
    ways = {f.apply for f in study.factors} or {Apply.FIRMWARE}
    yield from _shaders(study, plan)
    if ways & {Apply.FIRMWARE, Apply.PARTS}:
        yield Forgotten(
            "memory-training",
            "After a change of memory, its speed or its timings a PC tries the memory out at its next start: the screen can stay "
            f"dark for minutes, with several starts. Let it be; it is not counted beyond the {_minutes(study.costs.apply)} of "
            "applying a setup.",
        )
    yield Forgotten(
        "updates",
        "Launchers, titles, drivers and the system update themselves: update all before the first visit, then switch that off. A "
        "title or driver that changes between visits makes what came before it stale.",
    )
    if Apply.PARTS in ways:
        yield _activations(study, plan)
    yield from _room(study, plan)


def _shaders(study: Study, plan: Plan) -> Iterator[Forgotten]:
    what = "Titles build their shaders anew after a change of processor, memory, graphics driver or of the title itself"
    if not study.costs.shaders:
        text = f"{what}; no minutes are stated for it (shaders in [costs]), so it is not counted. Never record while they build."
        yield Forgotten("shaders", text)
        return
    first = {(v.setup, s.title) for v in plan.visits if v.round == 1 for s in v.scenes}
    minutes = study.costs.shaders * len(first)
    each = f"{_minutes(study.costs.shaders)} for each title in a setup's first visit"
    yield Forgotten("shaders", f"{what}: {each}, {_minutes(minutes)} in all, counted here.", minutes, counted=True)


def _activations(study: Study, plan: Plan) -> Forgotten:
    parts = [f for f in study.factors if f.apply is Apply.PARTS]
    times = sum(changes(study, plan)[f.name] for f in parts)
    return Forgotten(
        "activations",
        f"With other parts a system or a title may take the PC for another one, and activations are limited in number and in "
        f"time: here {listed([f.label for f in parts])} changes {counted(times, 'time')}. Find out before you begin what yours "
        "allow.",
    )


def _room(study: Study, plan: Plan) -> Iterator[Forgotten]:
    stated = [t.install_gb for t in study.titles if t.install_gb is not None]
    whole, room = sum(stated), study.costs.disk_gb
    untold = len(study.titles) - len(stated)
    but = f", without {counted(untold, 'title')} of unknown size" if untold else ""
    if room is not None and whole > room:
        moved = _moved(study, plan)
        text = (
            f"The titles take {_gb(whole)}{but} where the disk has room for {_gb(room)}: {_gb(moved)} are to be moved or fetched "
            "again on the way, and a title fetched again may be another build."
        )
        yield Forgotten("disk", text, gb=moved)
    elif stated:
        yield Forgotten("disk", f"The titles take {_gb(whole)} on the disk{but}; install and update them all before.", gb=whole)


def _moved(study: Study, plan: Plan) -> float:
    """GB that are put on the disk after the first visit, where only what a visit needs must be there."""
    room = study.costs.disk_gb or 0.0
    size = {t.name: t.install_gb or 0.0 for t in study.titles}
    there: dict[str, None] = {}
    moved = 0.0
    for i, visit in enumerate(plan.visits):
        needed = dict.fromkeys(s.title for s in visit.scenes)
        new = [t for t in needed if t not in there]
        for title in [t for t in there if t not in needed]:
            if sum(size[t] for t in (*there, *new)) <= room:
                break
            del there[title]
        there |= dict.fromkeys(new)
        moved += sum(size[t] for t in new) if i else 0.0
    return moved


def _gb(size: float) -> str:
    return f"{number(size, 0)} GB"


def _minutes(minutes: float) -> str:
    return duration_words(math.ceil(minutes) * 60)
