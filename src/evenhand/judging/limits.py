"""What may hold a title's rate whatever the setup: a frame cap, or a graphics processor that is busy all the time.

A limit is evidence, not a verdict: it is asked for where setups are level (response groups).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evenhand.judging.model import Limit, LimitKind, MeasureJudgement
from evenhand.screening.model import Screening, Weight
from evenhand.study.model import Study, Title

#: Per cent of the time from which on the graphics processor is taken to set the pace: common practice, no source.
BUSY: Final = 95.0
#: Share of a stated cap from which on an average counts as held by it: as wide as the pile-up that the check for caps looks for.
NEAR_CAP: Final = 0.97


def limits_of(
    study: Study, average: MeasureJudgement, screening: Screening, graphics_load: Mapping[tuple[str, str], float] | None = None
) -> dict[str, tuple[Limit, ...]]:
    """Title -> what was looked at. A cap is named only where it is reached, a graphics load wherever it is on record.

    average : the judgement of the average frame rate. graphics_load : (title, setup) -> per cent of the time.
    """
    found: dict[str, tuple[Limit, ...]] = {}
    for title in study.titles:
        values = {c.setup: c.value for c in average.cells if c.title == title.name}
        limits = (_cap(title, values, screening), _graphics(title.name, values, graphics_load or {}))
        if any(limits):
            found[title.name] = tuple(limit for limit in limits if limit)
    return found


def _cap(title: Title, values: Mapping[str, float], screening: Screening) -> Limit | None:
    """A cap that the checks found in every scene under every setup, or that the study states and every average comes near."""
    noted = [f for f in screening.flags if f.check == "capped" and f.weight is Weight.NOTE]
    own = [f for f in noted if any(run.title == title.name for run in f.covers)]
    held = {(run.scene, run.setup) for f in own for run in f.covers if run.title == title.name}
    if values and held >= {(scene.name, setup) for scene in title.scenes for setup in values}:
        return Limit(LimitKind.CAP, min(f.evidence["cap"] for f in own), True)
    stated = {scene.cap for scene in title.scenes}
    cap = stated.pop() if len(stated) == 1 else None
    if cap is not None and values and min(values.values()) >= NEAR_CAP * cap:
        return Limit(LimitKind.CAP, cap, True)
    return None


def _graphics(title: str, values: Mapping[str, float], load: Mapping[tuple[str, str], float]) -> Limit | None:
    """The load under the setups that have runs: the least where all of them are busy, else the largest."""
    own = [load[title, setup] for setup in values if (title, setup) in load]
    if not own:
        return None
    busy = len(own) == len(values) and min(own) >= BUSY
    return Limit(LimitKind.GRAPHICS, min(own) if busy else max(own), busy)
