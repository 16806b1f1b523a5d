"""What splitting the titles over visits of their own does to certainty: the study simulated as it is laid out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenhand.rehearsal.model import Scheme, Spreads, Way
from evenhand.rehearsal.needed import round_term
from evenhand.rehearsal.planned import MOSTLY_LEVEL, mixed, outlooks, simulated
from evenhand.rehearsal.rehearse import truth_of, votes_of


def way(
    scheme: Scheme, spreads: Spreads, margin: float, parts: Sequence[Sequence[str]], hours: float, studies: int, seed: int
) -> Way:
    """What a study tells whose titles are laid over visits in these parts, `scheme.visits` for each title.

    In parts a setup is applied as many times as often, so that what its visits share averages over more of them: over titles the
    interval gets narrower. At a title as many visits tell as before; only their spread is known with more degrees of freedom.
    parts : names of titles; one part = all titles in every visit. margin : on the measure's scale. hours : of the whole study.
    """
    visits, setups = scheme.visits * len(parts), len(scheme.setups)
    part_of = {title: part for part, titles in enumerate(parts) for title in titles}
    absent = tuple(
        (t, c, v)
        for t, title in enumerate(scheme.titles)
        for c in range(setups)
        for v in range(visits)
        if v % len(parts) != part_of[title]
    )
    truth = replace(truth_of(scheme, spreads, visits), absent=absent)
    rounds = round_term(setups, visits, scheme.rounds)
    found = simulated(truth, rounds, votes_of(scheme), studies, seed, scheme.confidence)
    supposed = mixed(MOSTLY_LEVEL, (studies, len(scheme.titles), setups), scheme.setups.index(scheme.baseline), seed)
    at, over, _ = outlooks(found, margin, margin * supposed)
    return Way(len(parts), visits, hours, at.simultaneous, over.simultaneous, at.settled, over.settled, found.layout.shift_df)
