"""Which runs a visit still misses."""

from __future__ import annotations

from collections.abc import Mapping

from evenhand.planning.minutes import practice_runs, scene_minutes
from evenhand.planning.model import Plan, PlannedScene
from evenhand.study.model import RunKey, Study


def expected(study: Study, plan: Plan | None, runs: Mapping[RunKey, bool], visit: tuple[str, int]) -> tuple[RunKey, ...]:
    """The runs that a visit still misses, in the order in which they are to be recorded; empty when it is complete.

    plan : None = the study's scenes in its own order, with the protocol's runs. runs : those on record -> whether the run fills
    its place; one to be redone does not, and another is expected instead of it, after the numbers that are taken.
    visit : setup and its number.
    """
    missing: list[RunKey] = []
    for scene in scenes_of(study, plan, visit):
        own = {key.run: fills for key, fills in runs.items() if _place(key) == (scene.title, scene.scene, *visit)}
        free = max(own, default=0) + 1
        still = scene.runs - sum(own.values())
        missing += [RunKey(scene.title, scene.scene, *visit, run) for run in range(free, free + still)]
    return tuple(missing)


def scenes_of(study: Study, plan: Plan | None, visit: tuple[str, int]) -> tuple[PlannedScene, ...]:
    """The scenes of a visit in their order: as planned, else (no plan, or none for this visit) all of the study."""
    planned = next((v.scenes for v in plan.visits if (v.setup, v.visit) == visit), None) if plan else None
    if planned is not None:
        return planned
    runs = study.protocol.runs
    return tuple(
        PlannedScene(title.name, scene.name, runs, practice_runs(study, scene), scene_minutes(study, scene))
        for title in study.titles
        for scene in title.scenes
    )


def _place(key: RunKey) -> tuple[str, str, str, int]:
    return (key.title, key.scene, key.setup, key.visit)
