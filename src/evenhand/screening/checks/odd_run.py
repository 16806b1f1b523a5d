"""Odd run out: apart from the other runs of its cell and visit, with no better reason at hand."""

from __future__ import annotations

from typing import Final

from evenhand.screening.found import Found, change_words, doubt, note, pace_words
from evenhand.screening.survey import Survey
from evenhand.units import percent, percent_of_log
from evenhand.wording import counted

_LEAST: Final = 0.02  # of a log rate: less than the usual margin moves no verdict
_WORTH_SAYING: Final = 0.05  # of a log rate: a loss that could pass unseen


def find(survey: Survey, threshold: float) -> Found:
    """Runs whose pace lies `threshold` spreads from what their cell and visit lead one to expect. With only one other run in
    the cell it cannot be told which of the two is odd: a note.
    """
    found = Found()
    levels = survey.levels
    for i, run in enumerate(survey.runs):
        odd, z = float(levels.odd[i]), float(levels.odd[i] / levels.scale[i])
        if not (abs(z) >= threshold and abs(odd) >= _LEAST):
            continue
        evidence = {"difference": odd, "z": z, "others": float(levels.mates[i])}
        size = pace_words(odd)
        if levels.mates[i] > 1:
            said = (
                f"{size} than the cell's {levels.mates[i]} other runs, the visit's own shift ({_shift_words(levels.shift[i])}) "
                f"allowed for: {abs(z):.1f} robust standard deviations."
            )
            found.flags.append(doubt(run.key, "odd-run", said, evidence))
        else:
            said = f"{size} than the only other run of its cell; a third would tell which of the two is odd."
            found.flags.append(note(run.key, "odd-run", said, evidence))
    found.untold.extend(_untold(survey, threshold))
    return found


def _untold(survey: Survey, threshold: float) -> list[str]:
    """How much slower than usual a run can be throughout without being told; and runs with too little beside them."""
    levels = survey.levels
    alone = int((levels.mates < 2).sum())
    lines = []
    if alone:
        have = "has" if alone == 1 else "have"
        lines.append(
            f"{counted(alone, 'run')} of {levels.mates.size} {have} fewer than two others in the cell: whether such a run is odd"
            ", or under another setup, cannot be told."
        )
    told = levels.scale[levels.mates >= 2] * threshold
    if told.size and told.max() >= _WORTH_SAYING:
        low, high = change_words(-float(told.min())), change_words(-float(told.max()))
        size = low if low == high else f"{low} to {high} (depending on the scene)"
        lines.append(f"Something that evenly takes less than {size} of a run's rate cannot be told from the runs' own spread.")
    return lines


def _shift_words(log_ratio: float) -> str:
    return percent(percent_of_log(log_ratio), sign=True, decimals=0)
