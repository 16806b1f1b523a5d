"""What is done about doubtful runs before judging: nothing, screening and recording anew, or redoing what looks odd."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

import numpy as np

from evenhand.judging.model import Row
from evenhand.measures.compute import measure_run
from evenhand.rehearsal.frame_law import MEASURES
from evenhand.rehearsal.from_frames import Recorded
from evenhand.screening.model import ScreenedRun
from evenhand.screening.screen import screen
from evenhand.study.model import RunKey


class Way(Enum):
    """A way from recorded runs to those that count."""

    HONEST = "nothing spoiled, all runs count"
    SPOILED = "some spoiled, all runs count"
    SCREENED = "some spoiled, screened and redone"
    NEEDLESS = "nothing spoiled, screened and redone"
    BY_EYE = "nothing spoiled, the oddest run of each cell redone"

    @property
    def spoiled(self) -> bool:
        """Whether something goes wrong with a share of the runs."""
        return self in (Way.SPOILED, Way.SCREENED)


def counting(recorded: Recorded, way: Way) -> dict[RunKey, ScreenedRun]:
    """The runs that count under a way."""
    honest, spoiled = dict(recorded.honest), {**recorded.honest, **recorded.wrong}
    if way is Way.HONEST:
        return honest
    if way is Way.SPOILED:
        return spoiled
    if way is Way.SCREENED:
        return redone(spoiled, {**recorded.anew, **recorded.wrong_anew})
    if way is Way.NEEDLESS:
        return redone(honest, recorded.anew)
    return redone_by_eye(honest, recorded.anew)


def redone(runs: Mapping[RunKey, ScreenedRun], anew: Mapping[RunKey, ScreenedRun]) -> dict[RunKey, ScreenedRun]:
    """The rule: doubtful runs are recorded anew in the same visit, once; what is doubtful then is set aside."""
    doubtful = screen(list(runs.values())).doubtful()
    if not doubtful:
        return dict(runs)
    second = {**runs, **{key: anew[key] for key in doubtful}}
    still = screen(list(second.values())).doubtful()
    return {key: run for key, run in second.items() if key not in still}


def redone_by_eye(runs: Mapping[RunKey, ScreenedRun], anew: Mapping[RunKey, ScreenedRun]) -> dict[RunKey, ScreenedRun]:
    """What tables invite to: of each cell the run whose average lies farthest from the cell's others is recorded anew, once."""
    cells: dict[tuple[str, str], list[RunKey]] = {}
    for key in runs:
        cells.setdefault((key.title, key.setup), []).append(key)
    second = dict(runs)
    for keys in cells.values():
        logs = np.array([np.log(len(runs[k].cut.counted) / runs[k].cut.counted.seconds) for k in keys])
        odd = keys[int(np.argmax(np.abs(logs - logs.mean())))]
        second[odd] = anew[odd]
    return second


def rows_of(runs: Mapping[RunKey, ScreenedRun], measured: dict[int, Mapping[str, float]]) -> list[Row]:
    """The table that `judge` takes. measured : numbers of runs that were measured before, by identity; added to."""
    rows = []
    for key, run in runs.items():
        if id(run) not in measured:
            measured[id(run)] = measure_run(run.cut.counted).values
        values = measured[id(run)]
        rows += [Row(key.title, key.setup, key.visit, key.run, m, values[m]) for m in MEASURES]
    return rows
