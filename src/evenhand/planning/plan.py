"""The plan of a study: visits in rounds, scenes in order, days filled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from evenhand.errors import PlanError, Problem
from evenhand.planning.model import Costs, Plan, PlannedScene, PlannedVisit
from evenhand.planning.rounds import balance, rounds_of, scene_orders
from evenhand.study.model import Scene, Study, Title
from evenhand.units import duration_words, number
from evenhand.wording import counted


def plan(study: Study, costs: Costs, seed: int, day_minutes: float | None = None, parts: int | None = None) -> Plan:
    """Plan the protocol's visits.

    parts : into how many parts the titles are split, each with visits and rounds of its own; None = as few as let one visit fit a
    day. Raises PlanError where a single title does not fit a day.
    """
    pieces = split(study, costs, day_minutes, parts)
    visits: list[PlannedVisit] = []
    notes = []
    for part, titles in enumerate(pieces, start=1):
        own = list(_visits(study, titles, costs, seed + part - 1, part, first=(part - 1) * study.protocol.visits))
        visits += own
        notes += _balance_notes(study, seed + part - 1) if part == 1 else []
    numbered = [replace(v, order=i) for i, v in enumerate(_apply_anew(visits, costs), start=1)]
    return Plan(seed, tuple(_days(numbered, day_minutes)), costs, day_minutes, len(pieces), tuple(notes))


def visit_minutes(study: Study, titles: Sequence[Title], setup: str, costs: Costs) -> float:
    """Minutes of one visit of `setup` that records `titles`."""
    return _entering(setup, costs) + sum(_title_minutes(study, t, costs) for t in titles)


def split(study: Study, costs: Costs, day_minutes: float | None, parts: int | None = None) -> tuple[tuple[Title, ...], ...]:
    """The titles in parts of about equal length, in the study's order. Raises PlanError."""
    if parts is None:
        parts = _fewest_parts(study, costs, day_minutes)
    if not 1 <= parts <= len(study.titles):
        what = f"{counted(len(study.titles), 'title')} cannot be split into {counted(parts, 'part')}"
        raise PlanError(Problem("plan-parts", what, "--parts", f"choose 1 to {len(study.titles)}"))
    target = sum(_title_minutes(study, t, costs) for t in study.titles) / parts
    pieces: list[list[Title]] = [[]]
    filled = 0.0
    for i, title in enumerate(study.titles):
        own, left = _title_minutes(study, title, costs), len(study.titles) - i
        due = parts - len(pieces)
        if pieces[-1] and due and (filled + own / 2 > target or left <= due):
            pieces.append([])
            filled = 0.0
        pieces[-1].append(title)
        filled += own
    return tuple(tuple(p) for p in pieces)


def _fewest_parts(study: Study, costs: Costs, day_minutes: float | None) -> int:
    if day_minutes is None:
        return 1
    entering = max(_entering(s.name, costs) for s in study.setups)
    longest = max(study.titles, key=lambda t: _title_minutes(study, t, costs))
    if entering + _title_minutes(study, longest, costs) > day_minutes:
        what = f"one visit with {longest.label} alone takes {_words(entering + _title_minutes(study, longest, costs))}"
        do = f"allow more than {_words(day_minutes)} a day, or lower the runs or the minutes of its parts"
        raise PlanError(Problem("plan-day", what, "--hours-a-day", do))
    for parts in range(1, len(study.titles) + 1):
        pieces = split(study, costs, None, parts)
        if all(visit_minutes(study, p, s.name, costs) <= day_minutes for p in pieces for s in study.setups):
            return parts
    return len(study.titles)


def _visits(study: Study, titles: Sequence[Title], costs: Costs, seed: int, part: int, first: int) -> Iterator[PlannedVisit]:
    """Visits of one part; their numbers go on after `first`."""
    count = study.protocol.visits
    scenes = [(t, s) for t in titles for s in t.scenes]
    orders = scene_orders(len(titles), count, seed)
    for r, row in enumerate(rounds_of(len(study.setups), count, seed).tolist()):
        placed = tuple(_planned(study, titles[i], scene, costs) for i in orders[r].tolist() for scene in titles[i].scenes)
        assert len(placed) == len(scenes)
        for setup in (study.setups[i].name for i in row):
            minutes = visit_minutes(study, titles, setup, costs)
            yield PlannedVisit(0, r + 1, setup, first + r + 1, placed, minutes, part=part)


def _apply_anew(visits: Sequence[PlannedVisit], costs: Costs) -> Iterator[PlannedVisit]:
    """Mark visits whose setup the PC is in already; going out of a setup and into it again takes applying twice."""
    before = ""
    for v in visits:
        again = v.setup == before
        yield replace(v, again=again, minutes=v.minutes + (costs.by_setup.get(v.setup, costs.apply) if again else 0.0))
        before = v.setup


def _days(visits: Sequence[PlannedVisit], day_minutes: float | None) -> Iterator[PlannedVisit]:
    """Whole visits into days, in order; a round begins a new day where it then fits one and would not fit what is left."""
    day, used = 1, 0.0
    for i, v in enumerate(visits):
        begins = i == 0 or (visits[i - 1].round, visits[i - 1].part) != (v.round, v.part)
        round_minutes = sum(w.minutes for w in visits if (w.round, w.part) == (v.round, v.part))
        if day_minutes is not None and used > 0:
            keeps_together = begins and used + round_minutes > day_minutes >= round_minutes
            if used + v.minutes > day_minutes or keeps_together:
                day, used = day + 1, 0.0
        used += v.minutes
        yield replace(v, day=day)


def _balance_notes(study: Study, seed: int) -> list[str]:
    found = balance(rounds_of(len(study.setups), study.protocol.visits, seed))
    notes = []
    if found.repeats:
        again = counted(found.repeats, "round begins", "rounds begin")
        notes.append(f"{again} with the setup that ended the last: apply it anew, or the two visits are one.")
    if found.drift >= 1:
        notes.append(
            f"With {counted(study.protocol.visits, 'round')} the setups cannot all come equally early: "
            f"their mean places in a round differ by up to {number(found.drift, 1)}."
        )
    return notes


def _planned(study: Study, title: Title, scene: Scene, costs: Costs) -> PlannedScene:
    protocol = study.protocol
    return PlannedScene(title.name, scene.name, protocol.runs, protocol.warmup_runs, _scene_minutes(study, scene, costs))


def _scene_minutes(study: Study, scene: Scene, costs: Costs) -> float:
    length = costs.scene if scene.seconds is None else scene.seconds / 60
    return costs.warm_up + study.protocol.runs * (length + costs.reset)


def _title_minutes(study: Study, title: Title, costs: Costs) -> float:
    return costs.by_title.get(title.name, costs.load) + sum(_scene_minutes(study, s, costs) for s in title.scenes)


def _entering(setup: str, costs: Costs) -> float:
    return costs.by_setup.get(setup, costs.apply) + costs.settle


def _words(minutes: float) -> str:
    return duration_words(math.ceil(minutes) * 60)
