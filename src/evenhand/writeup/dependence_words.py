"""How far the answer hangs on the choice of titles, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from evenhand import wording
from evenhand.judging.model import OverDependence, TitleDependence, Turn, Verdict
from evenhand.units import percent
from evenhand.writeup import sentences
from evenhand.writeup.material import Material
from evenhand.writeup.sections.naming import measure_name

SETTLED: Final = sentences.AHEAD | sentences.BEHIND | {Verdict.LEVEL}
#: A verdict is loose where as few titles turn it.
FEW: Final = 2
#: Titles of a set that are still named one by one.
MOST_NAMED: Final = 4
#: Groups of titles that would be told another setup and are named.
MOST_GROUPS: Final = 3
COUNTS: Final = ("no title", "any one title", "any two titles", "any three titles")


def settled(found: TitleDependence) -> tuple[OverDependence, ...]:
    """Those whose verdict is settled: what is open hangs on more than titles."""
    return tuple(o for o in found.over if o.verdict in SETTLED)


def dependence_heading(material: Material, found: TitleDependence) -> str:
    """The situation in a sentence: `Leaving out any two titles changes neither the recommendation nor a verdict over titles`."""
    named, known = found.setup, settled(found)
    hanging = _hanging(material, known)
    if named is not None and named.turns:
        if len(named.turns) > 1:
            return f"The recommendation hangs on any of {len(named.turns)} titles"
        other = material.setup_label(named.turn.to)
        return f"Without {material.title_label(named.turns[0])} the recommendation would be {other}"
    if hanging:
        return f"{hanging}; the recommendation does not" if named else hanging
    sure = min([o.turn.proven for o in known] + ([named.turn.proven] if named else []))
    if not sure:
        return "There are too few titles to leave one out"
    if not known:
        return f"Leaving out {COUNTS[sure]} does not change the recommendation"
    what = "neither the recommendation nor a verdict over titles" if named else "no verdict over titles"
    return f"Leaving out {COUNTS[sure]} changes {what}"


def _hanging(material: Material, found: Sequence[OverDependence]) -> str:
    """Verdicts that a single title turns; empty where there is none."""
    hanging = [o for o in found if o.turns]
    bearing = {t for o in hanging for t in o.turns}
    if not hanging:
        return ""
    which = f"one title: {material.title_label(next(iter(bearing)))}" if len(bearing) == 1 else "a single title"
    if len(hanging) > 1:
        return f"{len(hanging)} of {wording.counted(len(found), 'verdict')} over titles hang on {which}"
    one = hanging[0]
    return f"The verdict on {_setup(material, one)} in the {_measure(material, one)} hangs on {which}"


def recommendation_sentence(material: Material, found: TitleDependence) -> str:
    """How far the recommendation hangs on titles; empty where there is none."""
    named = found.setup
    if named is None:
        return ""
    shares = dict(named.shares)
    said = f"Recommended, {material.setup_label(named.setup)}: {_turning(material, named.turn, material.setup_label)}"
    said += (
        f"; {percent(100 * shares.get(named.setup, 0.0), 0)} of {found.samples} studies with titles drawn from these name it too"
    )
    apart = [g for g in named.by_group if g.setup != named.setup]
    for group in apart[:MOST_GROUPS]:
        titles = sentences.named([material.title_label(t) for t in group.titles[:MOST_NAMED]])
        more = len(group.titles) - MOST_NAMED
        titles = f"{titles} and {wording.counted(more, 'title')} like them" if more > 0 else titles
        said += f". For {titles} alone it would be {material.setup_label(group.setup)}"
    return f"{said}."


def loose(found: Sequence[OverDependence]) -> tuple[OverDependence, ...]:
    """Those that one or two titles turn."""
    return tuple(o for o in found if o.turn.titles and len(o.turn.titles) <= FEW)


def firm_sentence(found: Sequence[OverDependence]) -> str:
    """What holds of the rest: `The other 4 verdicts hold whichever three titles are left out.`"""
    rest = [o for o in found if o not in loose(found)]
    if not rest or len(rest) == len(found):
        return ""
    sure = min(o.turn.proven for o in rest)
    if not sure:
        return ""
    many = COUNTS[sure].removeprefix("any ")
    return (
        f"The other {'verdict holds' if len(rest) == 1 else f'{len(rest)} verdicts hold'} whichever {many} {_are(sure)} left out."
    )


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def dependence_sentence(material: Material, one: OverDependence) -> str:
    """One verdict: what turns it, as far as was searched."""
    who = f"{_setup(material, one)}, {_measure(material, one)}"
    return f"{who}, {sentences.word(one.verdict)}: {_turning(material, one.turn, _verdict)}"


def _verdict(to: str) -> str:
    return sentences.word(Verdict(to))


def _turning(material: Material, turn: Turn, words: Callable[[str], str]) -> str:
    if not turn.titles and not turn.proven:
        return "too few titles to leave one out"
    told = [f"leaving out {COUNTS[turn.proven]} changes nothing"] if turn.proven else []
    if turn.titles:
        told.append(f"without {_set(material, turn)} it would be {words(turn.to)}")
    elif turn.limit > turn.proven:
        told.append(f"nor does any larger set that was tried, up to {turn.limit} titles")
    return "; ".join(told)


def _set(material: Material, turn: Turn) -> str:
    """`Ironvale (or one of 3 other titles)`, `at most these 7 of the titles that bear it most`."""
    size = len(turn.titles)
    names = sentences.named([material.title_label(t) for t in turn.titles])
    if not turn.smallest:
        return f"{size} of the titles that bear it most, perhaps fewer," if size > MOST_NAMED else f"{names}, perhaps fewer,"
    more = turn.ways - 1
    if more < 1:
        return names
    return f"{names} (or {wording.counted(more, 'other title' if size == 1 else f'other set of {size}', _sets(size))})"


def _sets(size: int) -> str:
    return "other titles" if size == 1 else f"other sets of {size}"


def dependence_row(material: Material, one: OverDependence) -> tuple[str, ...]:
    """A row of the table: setup, measure, with all titles, the title that moves it most and what it is without, resampled."""
    judged = material.judgement.measures[one.measure]
    over = next(o for o in judged.over if (o.setup, o.against) == (one.setup, one.against))
    with_all, without = (sentences.change(v, over.se_these, judged.measure) for v in (one.estimate, one.without))
    return (
        material.setup_label(one.setup),
        measure_name(judged.measure),
        f"{with_all} {sentences.word(one.verdict)}",
        material.title_label(one.most),
        without,
        percent(100 * one.same, 0),
    )


def dependence_line(material: Material) -> tuple[str, ...]:
    """One line for a terminal; none where nothing is settled."""
    found = material.dependence
    return (f"{dependence_heading(material, found)}.",) if found and (settled(found) or found.setup) else ()


def _setup(material: Material, one: OverDependence) -> str:
    return material.setup_label(one.setup)


def _measure(material: Material, one: OverDependence) -> str:
    return measure_name(material.judgement.measures[one.measure].measure)
