"""What bench work takes: minutes of a visit's parts, and the hours of any number of visits and runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.study.model import Costs, Scene, Setup, Study, Title


def apply_minutes(study: Study, setup: Setup) -> float:
    """Minutes to put the PC into a setup."""
    return study.costs.apply if setup.minutes is None else setup.minutes


def practice_runs(study: Study, scene: Scene) -> int:
    """Runs of a scene at the start of each visit that never count."""
    return study.protocol.warmup_runs if scene.practice_runs is None else scene.practice_runs


def run_minutes(study: Study, scene: Scene) -> float:
    """Minutes of one recording of a scene, getting back to its start included."""
    return (study.costs.scene if scene.seconds is None else scene.seconds / 60) + study.costs.reset


def load_minutes(study: Study, title: Title) -> float:
    """Minutes to start a title and get to its scene."""
    return study.costs.load if title.minutes is None else title.minutes


def scene_minutes(study: Study, scene: Scene) -> float:
    """Minutes of a scene in one visit: warming up, and every run."""
    return study.costs.warm_up + study.protocol.runs * run_minutes(study, scene)


def title_minutes(study: Study, title: Title) -> float:
    """Minutes of a title in one visit."""
    return load_minutes(study, title) + sum(scene_minutes(study, s) for s in title.scenes)


def visit_minutes(study: Study, titles: Sequence[Title], setup: Setup, first: bool = False) -> float:
    """Minutes of one visit of `setup` that records `titles`; first : of this setup, so that titles build their shaders."""
    shaders = study.costs.shaders * len(titles) if first else 0.0
    return apply_minutes(study, setup) + study.costs.settle + sum(title_minutes(study, t) for t in titles) + shaders


@dataclass(frozen=True, slots=True)
class Bill:
    """Minutes of a study's parts, by its `costs`. visit : of a visit before anything is recorded, mean over the setups: applying,
    settling, loading and warming up. scenes : to record every scene once. once : of each setup's first visit alone.
    """

    costs: Costs
    visit: float
    scenes: float
    once: float = 0.0

    def hours(self, setups: int, visits: int, runs: int) -> float:
        """Of a whole study with so many recordings of each scene in a visit, warm-up runs included."""
        return setups * (visits * (self.visit + runs * self.scenes) + self.once) / 60.0

    def most_runs(self, setups: int, visits: int, hours: float) -> int:
        """The most recordings of each scene in a visit that the hours allow; below 1 where they do not allow the visits."""
        left = (60.0 * hours / setups - self.once) / visits - self.visit
        return math.floor(left / self.scenes + 1e-9)


def bill(study: Study) -> Bill:
    """The bill of a study, every title in every visit. A setup that follows itself counts as applied once."""
    scenes = [scene for title in study.titles for scene in title.scenes]
    apply = sum(apply_minutes(study, s) for s in study.setups) / len(study.setups)
    loads = sum(load_minutes(study, t) for t in study.titles) + len(scenes) * study.costs.warm_up
    recorded = sum(run_minutes(study, s) for s in scenes)
    return Bill(study.costs, apply + study.costs.settle + loads, recorded, study.costs.shaders * len(study.titles))
