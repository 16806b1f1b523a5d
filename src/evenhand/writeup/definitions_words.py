"""Whether conclusions about a low depend on its definition, in words; verdicts are worded by `sentences`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from evenhand import wording
from evenhand.judging.model import Bearing, DefinedVerdicts, LowDefinitions
from evenhand.measures.catalogue import CATALOGUE, LOWS, SHARES
from evenhand.units import NO_BREAK
from evenhand.writeup import sentences
from evenhand.writeup.material import Material

#: Conclusions that depend on the definition which a line for a terminal names.
MOST_IN_LINE: Final = 3
#: Definition -> how it is named after "by".
NAMES: Final = {"percentile": "the percentile", "tail-mean": "the mean of the slowest", "time-share": "the share of time"}
#: Definitions as the head of a column.
HEADS: Final = {name: row[1] for name, row in LOWS.items()}


def low_name(share: float) -> str:
    """`1 % low`."""
    return f"{SHARES[share][1].replace(' ', NO_BREAK)} low"


def in_short(found: Sequence[LowDefinitions]) -> str:
    """The plain statement: `No conclusion about the 1 % low depends on its definition`; empty where nothing was compared."""
    told = [low_name(f.share) for f in found if f.conclusions]
    hang = [f for f in found if f.of(Bearing.DEPENDS)]
    if hang:
        parts = [f"{len(f.of(Bearing.DEPENDS))} of {_conclusions(f)} about the {low_name(f.share)}" for f in hang]
        verb = "depends" if sum(len(f.of(Bearing.DEPENDS)) for f in hang) == 1 else "depend"
        said = f"{wording.listed(parts)} {verb} on its definition"
    elif told:
        said = f"No conclusion about the {wording.listed(told, 'or the')} depends on its definition"
    else:
        said = (
            f"Nothing can be concluded about the {wording.listed([low_name(f.share) for f in found], 'or the')}" if found else ""
        )
    return f"{said}; the recommendation does" if any(len(set(f.recommended.values())) > 1 for f in found) else said


def recommended(material: Material, found: LowDefinitions) -> str:
    """What each definition would recommend; empty where the low has no weight in it."""
    by_setup: dict[str, list[str]] = {}
    for key, setup in found.recommended.items():
        by_setup.setdefault(setup, []).append(NAMES[CATALOGUE[key].low or ""])
    if len(by_setup) < 2:
        return f"The recommendation is the same with every definition of the {low_name(found.share)}." if by_setup else ""
    told = [f"{material.setup_label(setup)} by {wording.listed(names)}" for setup, names in by_setup.items()]
    return f"The recommendation depends on the definition of the {low_name(found.share)}: {'; '.join(told)}."


def _conclusions(found: LowDefinitions) -> str:
    return wording.counted(found.conclusions, "conclusion")


def accounts(material: Material, found: LowDefinitions) -> list[str]:
    """What became of all comparisons of a low, in sentences; then what cannot be stated."""
    same, part, hang, none = (len(found.of(b)) for b in (Bearing.SAME, Bearing.FIRMNESS, Bearing.DEPENDS, Bearing.OPEN))
    name, said = low_name(found.share), []
    if found.conclusions:
        parts = [f"{same} {_are(same)} the same under all definitions"] if same else []
        parts += [f"{part} {_are(part)} told further under some than under others, without contradiction"] if part else []
        parts += [f"{hang} {'depends' if hang == 1 else 'depend'} on the definition"] if hang else []
        more = f"; {wording.counted(none, 'more comparison')} {_are(none)} open under all" if none else ""
        said.append(f"{name}: of {_conclusions(found)}, {wording.listed(parts)}{more}.")
    elif none:
        said.append(f"{name}: all {wording.counted(none, 'comparison')} {_are(none)} open under every definition.")
    named = recommended(material, found)
    return [*said, *([named] if named else []), *cannot_state(material, found)]


def cannot_state(material: Material, found: LowDefinitions) -> list[str]:
    """Definitions that too few frames decide at a title."""
    places: dict[tuple[str, ...], list[str]] = {}
    for key, frames in found.few_frames.items():
        places.setdefault(tuple(frames), []).append(key)
    said = []
    for titles, keys in places.items():
        fewest = min(found.few_frames[k][t] for k in keys for t in titles)
        where = "at any title" if len(titles) == len(material.judgement.titles) else f"in {_names(material, titles)}"
        by = "" if len(keys) == len(found.measures) else f" by {wording.listed([NAMES[CATALOGUE[k].low or ''] for k in keys])}"
        said.append(
            f"The {low_name(found.share)}{by} rests on too few frames to be stated {where}: as few as {fewest} of a visit."
        )
    return said


def in_a_line(material: Material) -> list[str]:
    """The same for a terminal: the statement with the conclusions that depend, and what cannot be stated."""
    found = material.definitions
    statement = in_short(found)
    hang = [differing(material, c) for f in found for c in f.of(Bearing.DEPENDS)]
    rest = len(hang) - MOST_IN_LINE
    shown = [*hang[:MOST_IN_LINE], *([f"{rest} more"] if rest > 0 else [])]
    said = [f"{statement}{': ' if hang else ''}{'; '.join(shown)}"] if statement else []
    said += [recommended(material, f) for f in found if len(set(f.recommended.values())) > 1]
    said += [text for f in found for text in cannot_state(material, f)]
    return [text.removesuffix(".") for text in said]


def _names(material: Material, titles: Sequence[str]) -> str:
    return sentences.named([material.title_label(t) for t in titles])


def differing(material: Material, found: DefinedVerdicts) -> str:
    """`Harbour Lights, lean: behind beyond the margin by the percentile, level by the share of time`."""
    by_word: dict[str, list[str]] = {}
    for key, verdict in found.verdicts.items():
        by_word.setdefault(sentences.word(verdict), []).append(NAMES[CATALOGUE[key].low or ""])
    told = ", ".join(f"{word} by {wording.listed(names)}" for word, names in by_word.items())
    return f"{place(material, found)}, {material.setup_label(found.setup)}: {told}"


def place(material: Material, found: DefinedVerdicts) -> str:
    """The title, or `over titles`."""
    return material.title_label(found.title) if found.title is not None else "over titles"


def _are(count: int) -> str:
    return "is" if count == 1 else "are"
