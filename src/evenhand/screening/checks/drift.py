"""Drift over the study, or over each visit: a note, since complete rounds share it out evenly."""

from __future__ import annotations

from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.found import Found, change_words, note
from evenhand.screening.survey import Survey
from evenhand.stats.trend import mann_kendall, theil_sen

_LEAST_VISITS: Final = 5  # whose order can be told from chance at all
_LEAST: Final = 0.005  # of a log rate from beginning to end


def find(survey: Survey, threshold: float) -> Found:
    """A note where the middle rates of the visits, in order of time, rise or fall with p below `threshold`."""
    found = Found()
    if any(r.position is None for r in survey.runs):
        return found
    levels = survey.levels
    away = levels.value - _cell_medians(survey)
    visits: dict[tuple[str, int], list[int]] = {}
    for i, r in enumerate(survey.runs):
        visits.setdefault((r.key.setup, r.key.visit), []).append(i)
    when = np.array([np.median([survey.runs[i].position or 0.0 for i in members]) for members in visits.values()])
    rate = np.array([np.median(away[members]) for members in visits.values()])
    if when.size < _LEAST_VISITS or np.ptp(when) == 0:
        return found
    order = np.argsort(when, kind="stable")
    p = mann_kendall(rate[order]).p
    change = theil_sen(rate, when) * float(np.ptp(when))
    if p < threshold and abs(change) >= _LEAST:
        keys = tuple(r.key for r in sorted(survey.runs, key=lambda r: r.position or 0.0))
        way = "rose" if change > 0 else "fell"
        size = change_words(change)
        said = f"Rates {way} by {size} from the first visit to the last (p = {p:.2g}, {when.size} visits)."
        advice = "keep the rounds complete, so that every setup has its share of early and late visits"
        found.flags.append(note(keys[0], "drift", said, {"change": change, "p": p, "visits": float(when.size)}, advice, keys))
    return found


def _cell_medians(survey: Survey) -> Floats:
    """Median log rate of each run's cell, shape (runs,)."""
    cells: dict[tuple[str, str, str], list[int]] = {}
    for i, r in enumerate(survey.runs):
        cells.setdefault((r.key.title, r.key.scene, r.key.setup), []).append(i)
    out = np.zeros(len(survey.runs))
    for members in cells.values():
        out[members] = np.median(survey.levels.value[members])
    return out
