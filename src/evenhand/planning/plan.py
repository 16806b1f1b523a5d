"""The plan of a study: visits in rounds, scenes in order, days filled."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from evenhand.errors import PlanError, Problem
from evenhand.planning.minutes import apply_minutes, practice_runs, scene_minutes, title_minutes, visit_minutes
from evenhand.planning.model import Plan, PlannedScene, PlannedVisit
from evenhand.planning.rounds import balance, rounds_of, scene_orders
from evenhand.study.model import Scene, Study, Title
from evenhand.units import duration_words, number
from evenhand.wording import counted, listed


def plan(study: Study, seed: int, day_minutes: float | None = None, parts: int | None = None) -> Plan:
    """Plan the visits of the study's protocol, with the minutes that it states.

    day_minutes : bench work a day. parts : into how many parts the titles are split, each with visits and rounds of its own; None
    = as few as let one visit fit a day and its titles the disk. Raises PlanError where a single title does not fit.
    """
    pieces = split(study, day_minutes, parts)
    visits = [replace(v, order=i) for i, v in enumerate(_apply_anew(study, _visits(study, pieces, seed)), start=1)]
    notes = (*_practice_notes(study), *_balance_notes(study, visits), *_disk_notes(study, pieces))
    return Plan(seed, tuple(_days(visits, day_minutes)), day_minutes, len(pieces), notes)


def split(study: Study, day_minutes: float | None, parts: int | None = None) -> tuple[tuple[Title, ...], ...]:
    """The titles in parts of about equal length, in the study's order. Raises PlanError."""
    if parts is not None:
        if not 1 <= parts <= len(study.titles):
            what = f"{counted(len(study.titles), 'title')} cannot be split into {counted(parts, 'part')}"
            raise PlanError(Problem("plan-parts", what, "--parts", f"choose 1 to {len(study.titles)}"))
        return _split(study, parts)
    _check_titles(study, day_minutes)
    ways = (_split(study, parts) for parts in range(1, len(study.titles) + 1))
    return next(p for p in ways if _fits(study, p, day_minutes))


def parts_for_rounds(study: Study, day_minutes: float | None) -> int | None:
    """The fewest parts of the titles with which a whole round of each fits a day; None where there is no such number."""
    if day_minutes is None:
        return None
    for parts in range(1, len(study.titles) + 1):
        rounds = [sum(visit_minutes(study, titles, s, True) for s in study.setups) for titles in _split(study, parts)]
        if max(rounds) <= day_minutes:
            return parts
    return None


def _split(study: Study, parts: int) -> tuple[tuple[Title, ...], ...]:
    target = sum(title_minutes(study, t) for t in study.titles) / parts
    pieces: list[list[Title]] = [[]]
    filled = 0.0
    for i, title in enumerate(study.titles):
        own, left, due = title_minutes(study, title), len(study.titles) - i, parts - len(pieces)
        if pieces[-1] and due and (filled + own / 2 > target or left <= due):
            pieces.append([])
            filled = 0.0
        pieces[-1].append(title)
        filled += own
    return tuple(tuple(p) for p in pieces)


def _fits(study: Study, pieces: Sequence[Sequence[Title]], day_minutes: float | None) -> bool:
    day = math.inf if day_minutes is None else day_minutes
    disk = math.inf if study.costs.disk_gb is None else study.costs.disk_gb
    longest = max(study.setups, key=lambda s: apply_minutes(study, s))
    return all(visit_minutes(study, p, longest, True) <= day and _installed(p) <= disk for p in pieces)


def _check_titles(study: Study, day_minutes: float | None) -> None:
    """Raise PlanError for the first title that fits neither day nor disk by itself."""
    for title in study.titles:
        if _fits(study, [[title]], day_minutes):
            continue
        if _fits(study, [[title]], None) and day_minutes is not None:
            alone = max(visit_minutes(study, [title], s, True) for s in study.setups)
            what = f"one visit with {title.label} alone takes {_words(alone)}"
            do = f"allow more than {_words(day_minutes)} a day, or lower the runs or the minutes of its parts"
            raise PlanError(Problem("plan-day", what, "--hours-a-day", do))
        room = f"{number(study.costs.disk_gb or 0, 0)} GB"
        what = f"{title.label} takes {number(title.install_gb or 0, 0)} GB where the disk has room for {room}"
        raise PlanError(Problem("plan-disk", what, "study.toml", "correct install_gb of the title or disk_gb in [costs]"))


def _installed(titles: Sequence[Title]) -> float:
    return sum(t.install_gb or 0.0 for t in titles)


def _visits(study: Study, pieces: Sequence[Sequence[Title]], seed: int) -> Iterator[PlannedVisit]:
    """Visits of all parts, in the order in which they are made.

    Every part has its rounds in the same order of setups, so that none begins with what ended the last. A round of each part
    comes before the next round of any, so that wherever it is stopped all titles have been recorded alike; but where the disk
    cannot hold them all, part after part, so that titles are moved only once.
    """
    rounds, parts = study.protocol.visits, range(len(pieces))
    row = rounds_of(len(study.setups), rounds, seed).tolist()
    orders = [scene_orders(len(titles), rounds, seed + part).tolist() for part, titles in enumerate(pieces)]
    by_part = [(r, p) for p in parts for r in range(rounds)]
    for block, (r, part) in enumerate(by_part if _shuffles(study) else sorted(by_part)):
        titles = pieces[part]
        scenes = tuple(_planned(study, titles[i], scene) for i in orders[part][r] for scene in titles[i].scenes)
        for setup in (study.setups[i] for i in row[r]):
            minutes = visit_minutes(study, titles, setup, first=r == 0)
            yield PlannedVisit(0, r + 1, setup.name, block + 1, scenes, minutes, part=part + 1)


def _shuffles(study: Study) -> bool:
    """Whether titles must be moved or fetched again."""
    return study.costs.disk_gb is not None and _installed(study.titles) > study.costs.disk_gb


def _apply_anew(study: Study, visits: Iterable[PlannedVisit]) -> Iterator[PlannedVisit]:
    """Mark visits whose setup the PC is in already; going out of a setup and into it again takes applying twice."""
    before = ""
    for v in visits:
        again = v.setup == before
        yield replace(v, again=again, minutes=v.minutes + (apply_minutes(study, study.setup(v.setup)) if again else 0.0))
        before = v.setup


def _days(visits: Sequence[PlannedVisit], day_minutes: float | None) -> Iterator[PlannedVisit]:
    """Whole visits into days, in order; a round that fits a day and not what is left of this one begins the next."""
    day, used = 1, 0.0
    for _, group in itertools.groupby(visits, key=lambda v: v.visit):
        own = list(group)
        whole = sum(v.minutes for v in own)
        if day_minutes is not None and used and used + whole > day_minutes >= whole:
            day, used = day + 1, 0.0
        for v in own:
            if day_minutes is not None and used and used + v.minutes > day_minutes:
                day, used = day + 1, 0.0
            used += v.minutes
            yield replace(v, day=day)


def _balance_notes(study: Study, visits: Sequence[PlannedVisit]) -> Iterator[str]:
    again, setups = sum(v.again for v in visits), len(study.setups)
    if again and setups > 1:
        which = counted(again, "round begins", "rounds begin")
        yield f"{which} with the setup that ended the last: apply it anew, or the two visits are one."
    names = [s.name for s in study.setups]
    order = np.array([names.index(v.setup) for v in visits if v.part == 1], dtype=np.intp)
    drift = balance(order.reshape(-1, setups)).drift
    if drift >= 1:
        yield (
            f"With {counted(study.protocol.visits, 'round')} the setups cannot all come equally early: "
            f"their mean places in a round differ by up to {number(drift, 1)}."
        )


def _practice_notes(study: Study) -> Iterator[str]:
    """Scenes of which no run would count."""
    runs = study.protocol.runs
    none = [f"{t.label}, {s.label}" for t in study.titles for s in t.scenes if practice_runs(study, s) >= runs]
    if none:
        yield f"No run of {listed(none)} would count: of {counted(runs, 'run')} a visit, all are practice or warm-up."


def _disk_notes(study: Study, pieces: Sequence[Sequence[Title]]) -> list[str]:
    room = study.costs.disk_gb
    over = [p for p in pieces if room is not None and _installed(p) > room]
    if not over or room is None:
        return []
    most = max(_installed(p) for p in over)
    return [
        f"The titles of one visit take {number(most, 0)} GB where the disk has room for {number(room, 0)} GB: "
        f"every visit would have to move or fetch again at least {number(most - room, 0)} GB."
    ]


def _planned(study: Study, title: Title, scene: Scene) -> PlannedScene:
    practice = practice_runs(study, scene)
    return PlannedScene(title.name, scene.name, study.protocol.runs, practice, scene_minutes(study, scene))


def _words(minutes: float) -> str:
    return duration_words(math.ceil(minutes) * 60)
