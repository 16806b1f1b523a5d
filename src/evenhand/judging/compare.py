"""Where two ways of analysing the same study speak different verdicts."""

from __future__ import annotations

from evenhand.judging.model import Disagreement, Judgement, MeasureJudgement, Verdict

Address = tuple[str | None, str, str]


def disagreements(shown: Judgement, other: Judgement, way: str) -> tuple[Disagreement, ...]:
    """Every verdict that differs, at titles and over titles, in the order shown.

    way : in words, how `other` was done ("with all set-aside runs put back"). A comparison that only one of the two has is no
    disagreement.
    """
    found: list[Disagreement] = []
    for key, judged in shown.measures.items():
        if key in other.measures:
            found += measure_disagreements(judged, other.measures[key], way)
    return tuple(found)


def measure_disagreements(shown: MeasureJudgement, other: MeasureJudgement, way: str) -> tuple[Disagreement, ...]:
    """The same for one measure."""
    theirs = verdicts(other)
    return tuple(
        Disagreement(way, shown.measure.key, title, setup, against, verdict, theirs[title, setup, against])
        for (title, setup, against), verdict in verdicts(shown).items()
        if theirs.get((title, setup, against), verdict) is not verdict
    )


def verdicts(judged: MeasureJudgement) -> dict[Address, Verdict]:
    """(title or None, setup, against) -> verdict."""
    at_titles: dict[Address, Verdict] = {(c.title, c.setup, c.against): c.verdict for c in judged.comparisons}
    return at_titles | {(None, o.setup, o.against): o.verdict for o in judged.over}
