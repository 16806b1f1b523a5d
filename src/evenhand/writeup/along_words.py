"""Where in a scene setups differ, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from evenhand.judging.model import Along, Interval, Passage, Verdict
from evenhand.measures.catalogue import CATALOGUE
from evenhand.units import NO_BREAK, number
from evenhand.wording import counted, listed
from evenhand.writeup import sentences

#: More places than this of a setup are told by their number and the largest of them.
MOST_PLACES: Final = 3


def along_sentence(one: Along, label: str) -> str:
    """`B: behind between 12 and 19 s (6 to 11 %), elsewhere no difference told`, without a full stop."""
    return f"{label}: {along_words(one)}"


def along_words(one: Along) -> str:
    """The same without the setup's name."""
    if not one.passages:
        return "no difference told anywhere in the scene"
    if len(one.passages) == 1 and (one.passages[0].begin, one.passages[0].end) == (one.edges[0], one.edges[-1]):
        return f"{_stem(one.passages[0])} throughout ({_size(one.passages[0], one)})"
    ways = [[p for p in one.passages if p.verdict in way] for way in (sentences.BEHIND, sentences.AHEAD)]
    told = [_way(own, one) for own in ways if own]
    return f"{'; '.join(told)}; elsewhere no difference told" if len(told) > 1 else f"{told[0]}, elsewhere no difference told"


def along_heading(along: Sequence[Along], labels: Mapping[str, str]) -> str:
    """What is found in a scene, in one short sentence."""
    some = [a for a in along if a.passages]
    if not some:
        return "Nowhere in the scene is a difference told"
    even = [a for a in some if len(a.passages) == 1 and (a.passages[0].begin, a.passages[0].end) == (a.edges[0], a.edges[-1])]
    places = [labels[a.setup] for a in some if a not in even]
    parts = [f"{sentences.named(places)} {'differs' if len(places) == 1 else 'differ'} in places"] if places else []
    if even:
        verb = "differs" if len(even) == 1 else "differ"
        parts.append(f"{sentences.named([labels[a.setup] for a in even])} {verb} throughout")
    return f"Along the scene, {'; '.join(parts)}"


def _way(own: Sequence[Passage], one: Along) -> str:
    stem = "ahead" if own[0].verdict in sentences.AHEAD else "behind"
    if len(own) <= MOST_PLACES:
        return f"{stem} between {listed([f'{_between(p, one)} ({_size(p, one)})' for p in own])}"
    longest = max(own, key=lambda p: p.end - p.begin)
    whole = sum(p.end - p.begin for p in own)
    share = number(100 * whole / (one.edges[-1] - one.edges[0]))
    return (
        f"{stem} in {counted(len(own), 'place')}, together {share}{NO_BREAK}% of the scene (the longest between "
        f"{_between(longest, one)}, {_size(longest, one)})"
    )


def _stem(passage: Passage) -> str:
    beyond = passage.verdict in (Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND)
    return f"{'ahead' if passage.verdict in sentences.AHEAD else 'behind'}{' beyond the margin' if beyond else ''}"


def _between(passage: Passage, one: Along) -> str:
    """`12 and 19 s`, or frames; with a decimal where bins are shorter than a second."""
    seconds = one.unit == "seconds"
    places = 1 if seconds and one.edges[1] - one.edges[0] < 1 else 0
    unit = f"{NO_BREAK}s" if seconds else " frames"
    return f"{number(passage.begin, places)} and {number(passage.end, places)}{unit}"


def _size(passage: Passage, one: Along) -> str:
    """Both ends of the band, mean over the place: `6 to 11 %`."""
    ends = Interval(passage.low, passage.high, one.confidence)
    return sentences.span_words(ends, CATALOGUE["average"], one.margin)
