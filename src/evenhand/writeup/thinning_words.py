"""Which titles to keep for the next study, in words and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from evenhand import wording
from evenhand.judging.model import OnVisits, Thinned, Thinning
from evenhand.units import duration_words, number, percent
from evenhand.writeup import sentences
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Table

#: A choice is said to stand for all titles where it misses them by less than this share of the margin, and keeps the verdicts.
CLOSE: Final = 0.5
SAME: Final = 0.9
#: A choice is said to buy something where it does better than this share of random ones.
BUYS: Final = 0.8


def thinning_heading(found: Thinning) -> str:
    """The situation in a sentence, by what visits left out say."""
    titles = len(found.titles)
    if not found.choices:
        return "There are too few titles to choose from"
    if not found.visits_left_out:
        return f"Which of the {titles} titles to keep cannot be tested: it takes a second visit of each setup"
    enough = next((c for c in found.choices if c.on_visits and _stands(c.on_visits)), None)
    if enough is None:
        most = len(found.choices[-1].kept)
        return f"No choice of {most} titles or fewer says the same as all {titles} on visits left out"
    return f"{len(enough.kept)} of the {titles} titles say nearly the same as all of them on visits left out"


def _stands(found: OnVisits) -> bool:
    return found.error <= CLOSE and found.verdicts >= SAME


def thinning_sentence(material: Material, found: Thinned) -> str:
    """One choice: which titles, and whether the choice buys anything beside a random one."""
    names = sentences.named([material.title_label(t) for t in found.kept])
    said = f"{len(found.kept)}: {names}"
    if found.groups_missing:
        groups = wording.counted(found.groups_missing, "way in which titles respond", "ways in which titles respond")
        said += f"; {groups} {'is' if found.groups_missing == 1 else 'are'} not among them"
    if found.on_visits is None:
        return f"{said}."
    better = found.on_visits.better_than
    said += f". It errs less than {percent(100 * better, 0)} of random choices as large"
    return f"{said}." if better >= BUYS else f"{said}: choosing buys little."


def thinning_table(choices: Sequence[Thinned], saved: Sequence[float] = ()) -> Table:
    """A row a size. saved : seconds that the next study takes less, in the order of the choices."""
    head = ["kept", "misses all by", "at random", "same verdicts", "at random", "interval", "kept again"]
    rows = [
        [
            wording.counted(len(c.kept), "title"),
            *(_tested(c.on_visits) if c.on_visits else (f"{number(c.expected_error, 2)} expected", "–", "–", "–")),
            "–" if c.wider is None else f"× {number(c.wider, 2)}",
            percent(100 * c.on_visits.again, 0) if c.on_visits else "–",
        ]
        for c in choices
    ]
    if saved:
        head.append("time saved")
        rows = [[*row, duration_words(seconds)] for row, seconds in zip(rows, saved, strict=True)]
    return Table(
        head=tuple(head),
        rows=tuple(tuple(row) for row in rows),
        numeric=(False, *(True,) * (len(head) - 1)),
        columns=(Column.NAME, *(Column.FIGURE,) * (len(head) - 1)),
        caption="Misses in margins, on visits that the choice was made without; beside it what random titles give there. Same "
        "verdicts: share of those over titles. Interval: width over the titles kept against all. Kept again: titles also "
        "chosen without those visits.",
    )


def _tested(found: OnVisits) -> tuple[str, ...]:
    return (
        number(found.error, 2),
        number(found.random_error, 2),
        percent(100 * found.verdicts, 0),
        percent(100 * found.random_verdicts, 0),
    )


def thinning_lead(found: Thinning) -> str:
    """What was done, in two sentences."""
    said = "These titles come nearest to what all titles say of the setups; common ways of responding are among them."
    if not found.visits_left_out:
        return f"{said} With one visit a setup the choice cannot be tested, and a choice always fits best what it was made from."
    turns = wording.counted(found.visits_left_out, "turn")
    return f"{said} Each size was tested on visits that it was chosen without, in {turns}."
