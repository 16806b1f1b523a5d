"""Odd run out: apart from the other runs of its cell and visit, with no better reason at hand."""

from __future__ import annotations

from typing import Final

from evenhand.screening.found import Found, doubt, note
from evenhand.screening.survey import Survey
from evenhand.units import MINUS, percent_of_log

_LEAST: Final = 0.01  # of a log rate: what differs less is not worth a word


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
        size = f"{abs(percent_of_log(odd)):.0f} % {'faster' if odd > 0 else 'slower'}"
        if levels.mates[i] > 1:
            said = (
                f"{size} than the cell's {levels.mates[i]} other runs, the visit's own shift ({_signed(levels.shift[i])}) "
                f"allowed for: {abs(z):.1f} robust standard deviations."
            )
            found.flags.append(doubt(run.key, "odd-run", said, evidence))
        else:
            said = f"{size} than the only other run of its cell; a third would tell which of the two is odd."
            found.flags.append(note(run.key, "odd-run", said, evidence))
    return found


def _signed(log_ratio: float) -> str:
    value = round(percent_of_log(log_ratio))
    return f"{'+' if value > 0 else MINUS if value < 0 else ''}{abs(value)} %"
