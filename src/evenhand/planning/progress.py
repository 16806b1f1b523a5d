"""How far a plan is carried out, and the cheapest way back for what was lost.

A function of the plan and of what is recorded alone: whatever is interrupted, the next call says the same.

A run that is spoiled while the PC is still in its visit is recorded again there. Once the visit is over it cannot be: a run of
another visit is that visit's. Where another run of the scene counts, the visit has its mean all the same and nothing is planned.
Where none does, the scene lacks a visit, and gets one back in the first later visit of the setup that is made for other titles,
which costs no firmware change; else all that a setup has lost comes back in one visit of its own, after the others or between
two rounds.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from evenhand.planning.minutes import apply_minutes, load_minutes, practice_runs, run_minutes
from evenhand.planning.model import Lost, Plan, PlannedVisit, Progress, RecordedRun, SceneLeft, Thin, VisitLeft
from evenhand.study.model import Scene, Study

#: Setup and number of a visit.
Visit = tuple[str, int]
#: Title and scene.
Place = tuple[str, str]


def progress(study: Study, plan: Plan, runs: Iterable[RecordedRun], begun: Sequence[Visit], ended: bool = False) -> Progress:
    """How far the plan is carried out.

    begun : visits in the order in which they were begun, each once; the last is the one the PC is in, unless it was ended. One
    in which nothing was recorded is made again in its place.
    """
    return _Tally(study, plan, runs, begun, ended).progress()


class _Tally:
    """What is recorded, against what is planned."""

    def __init__(self, study: Study, plan: Plan, runs: Iterable[RecordedRun], begun: Sequence[Visit], ended: bool) -> None:
        self._study, self._plan = study, plan
        self._scenes = {(t.name, s.name): s for t in study.titles for s in t.scenes}
        self._planned = {(v.setup, v.visit): v for v in plan.visits}
        self._runs: dict[tuple[Visit, Place], list[RecordedRun]] = defaultdict(list)
        for run in runs:
            self._runs[(run.key.setup, run.key.visit), (run.key.title, run.key.scene)].append(run)
        self._present = begun[-1] if begun and not ended else None
        recorded = {visit for visit, _ in self._runs}
        self._last = next((setup for setup, n in reversed(begun) if (setup, n) in recorded | {self._present}), "")
        self._over = {visit for visit in begun if visit != self._present and visit in recorded}

    def progress(self) -> Progress:
        lost = self._lost()
        owed = Counter((setup, place) for (setup, _), place in lost)
        owed.subtract(self._brought_back())
        owed = +owed
        back: list[tuple[Visit, Place]] = []
        present = None if self._present is None else self._finish(self._present, self._joined(self._present, owed, back))
        ahead = [self._visit(v, self._joined((v.setup, v.visit), owed, back)) for v in self._plan.visits if self._to_come(v)]
        own = self._own_visits(owed, back)
        undone = [v for v in self._plan.visits if self._to_come(v) or not self._is_done(v, present)]
        return Progress(
            visits=len(self._plan.visits),
            over=len(self._plan.visits) - len(undone),
            rounds=min((v.round for v in undone), default=self._plan.rounds + 1) - 1,
            present=present,
            ahead=self._in_order(ahead, own),
            lost=self._told(lost, back),
            thin=self._thin(),
        )

    def _to_come(self, visit: PlannedVisit) -> bool:
        return (visit.setup, visit.visit) not in self._over and (visit.setup, visit.visit) != self._present

    def _is_done(self, planned: PlannedVisit, present: VisitLeft | None) -> bool:
        """Whether a visit that was begun is complete, or over with something that counts."""
        visit = (planned.setup, planned.visit)
        if visit == self._present and present is not None:
            return not present.scenes
        return any(self._counting(visit, place) for place in self._places(visit))

    def _counting(self, visit: Visit, place: Place) -> int:
        practice = practice_runs(self._study, self._scenes[place])
        return sum(run.kept and run.key.run > practice for run in self._runs.get((visit, place), ()))

    def _places(self, visit: Visit) -> list[Place]:
        """What is planned of a visit, as far as the study still has it."""
        planned = self._planned.get(visit)
        places = [] if planned is None else [(s.title, s.scene) for s in planned.scenes]
        return [place for place in places if place in self._scenes]

    def _lost(self) -> list[tuple[Visit, Place]]:
        """Scenes without a run that counts, in planned visits that are over."""
        return [
            (visit, place)
            for visit in self._planned
            if visit in self._over
            for place in self._places(visit)
            if not self._counting(visit, place)
        ]

    def _brought_back(self) -> Counter[tuple[str, Place]]:
        """Visits of scenes that were recorded beside the plan, and are over."""
        found: Counter[tuple[str, Place]] = Counter()
        for visit, place in self._runs:
            known = place in self._scenes and visit in self._over
            if known and place not in self._places(visit) and self._counting(visit, place):
                found[visit[0], place] += 1
        return found

    def _joined(self, visit: Visit, owed: Counter[tuple[str, Place]], back: list[tuple[Visit, Place]]) -> list[Place]:
        """What was lost of this setup and is not planned in this visit anyway: recorded in it too."""
        planned = self._places(visit)
        places = [place for place in self._scenes if owed[visit[0], place] > 0 and place not in planned]
        for place in places:
            owed[visit[0], place] -= 1
            if not self._counting(visit, place):
                back.append((visit, place))
        return places

    def _own_visits(self, owed: Counter[tuple[str, Place]], back: list[tuple[Visit, Place]]) -> list[VisitLeft]:
        """Visits of their own for what is still owed, numbered after all others of their setup."""
        found = []
        for setup in (s.name for s in self._study.setups):
            number = max((n for s, n in (*self._planned, *self._over, self._present or ("", 0)) if s == setup), default=0)
            while places := [place for place in self._scenes if owed[setup, place] > 0]:
                number += 1
                owed.subtract({(setup, place): 1 for place in places})
                back += [((setup, number), place) for place in places]
                found.append(self._made((setup, number), [], places, None))
        return found

    def _visit(self, planned: PlannedVisit, joined: list[Place]) -> VisitLeft:
        visit = (planned.setup, planned.visit)
        first = self._study.costs.shaders * len({s.title for s in planned.scenes}) if planned.round == 1 else 0.0
        made = self._made(visit, self._places(visit), joined, planned.round)
        return replace(made, minutes=made.minutes + first, part=planned.part)

    def _made(self, visit: Visit, places: list[Place], joined: list[Place], number: int | None) -> VisitLeft:
        """A visit that is to be begun."""
        left = self._finish(visit, joined, places)
        entering = apply_minutes(self._study, self._study.setup(visit[0])) + self._study.costs.settle
        return replace(left, round=number, minutes=left.minutes + entering, begun=False)

    def _finish(self, visit: Visit, joined: list[Place], places: list[Place] | None = None) -> VisitLeft:
        """What a visit lacks, and the minutes it takes without getting into the setup."""
        own = self._places(visit) if places is None else places
        scenes = [s for place in (*own, *joined) if (s := self._left(visit, place, place in joined)).runs > 0]
        planned = self._planned.get(visit)
        return VisitLeft(
            setup=visit[0],
            visit=visit[1],
            round=None if planned is None else planned.round,
            scenes=tuple(scenes),
            minutes=self._minutes(scenes),
            begun=True,
            part=1 if planned is None else planned.part,
        )

    def _left(self, visit: Visit, place: Place, again: bool) -> SceneLeft:
        """A practice run that was set aside is played all the same; every other run that is not kept is to be made again."""
        wanted, practice = self._study.protocol.runs, practice_runs(self._study, self._scenes[place])
        there = self._runs.get((visit, place), ())
        made = sum(run.kept or run.key.run <= practice for run in there)
        following = max((run.key.run for run in there), default=0) + 1
        return SceneLeft(*place, max(wanted - made, 0), wanted, following, max(practice - following + 1, 0), again)

    def _minutes(self, scenes: Sequence[SceneLeft]) -> float:
        titles = dict.fromkeys(s.title for s in scenes)
        loads = sum(load_minutes(self._study, self._study.title(name)) for name in titles)
        return loads + sum(self._study.costs.warm_up + s.runs * run_minutes(self._study, self._scene(s)) for s in scenes)

    def _scene(self, left: SceneLeft) -> Scene:
        return self._scenes[left.title, left.scene]

    def _in_order(self, planned: Sequence[VisitLeft], own: Sequence[VisitLeft]) -> tuple[VisitLeft, ...]:
        """The plan's order, with visits of their own where they come after and before other setups: at the end, or between two
        rounds. A setup that follows itself is applied anew, which takes going out of it first.
        """
        ahead = list(planned)
        for visit in own:
            ends = [i for i in range(len(ahead), -1, -1) if i in (0, len(ahead)) or ahead[i].visit != ahead[i - 1].visit]
            apart = (i for i in ends if visit.setup not in self._beside(ahead, i))
            ahead.insert(next(apart, len(ahead)), visit)
        found, before = [], self._last
        for visit in ahead:
            out = apply_minutes(self._study, self._study.setup(visit.setup)) if visit.setup == before else 0.0
            found.append(replace(visit, anew=visit.setup == before, minutes=visit.minutes + out))
            before = visit.setup
        return tuple(found)

    def _beside(self, ahead: Sequence[VisitLeft], place: int) -> tuple[str, ...]:
        """The setups before and after a place."""
        before = ahead[place - 1].setup if place else self._last
        return (before, *(v.setup for v in ahead[place : place + 1]))

    def _told(self, lost: list[tuple[Visit, Place]], back: list[tuple[Visit, Place]]) -> tuple[Lost, ...]:
        """What is still to come back: the latest losses of each scene, each with the visit that brings it."""
        found: list[Lost] = []
        for setup, place in dict.fromkeys((visit[0], place) for visit, place in back):
            losses = [number for (s, number), p in lost if (s, p) == (setup, place)]
            into = [number for (s, number), p in back if (s, p) == (setup, place)]
            found += [Lost(setup, of, *place, to) for of, to in zip(losses[-len(into) :], into, strict=True)]
        return tuple(found)

    def _thin(self) -> tuple[Thin, ...]:
        found = []
        for visit in self._planned:
            for place in self._places(visit) if visit in self._over else ():
                wanted = self._study.protocol.runs - practice_runs(self._study, self._scenes[place])
                if 0 < (count := self._counting(visit, place)) < wanted:
                    found.append(Thin(*visit, *place, count, wanted))
        return tuple(found)
