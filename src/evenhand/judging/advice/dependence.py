"""What depends on which titles are in a study: each verdict over titles, and the setup that is named.

>>> from evenhand.judging.advice.dependence import title_dependence
>>> title_dependence(table, judgement, ("average",)).over[0].turn.titles         # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from evenhand.judging.advice.answers import Answer, Measured, measured, setup_named, without
from evenhand.judging.advice.model import Preferences, Recommendation
from evenhand.judging.advice.subsets import against_baseline, field_of
from evenhand.judging.advice.turning import smallest_turn
from evenhand.judging.analysis import analyse
from evenhand.judging.decide import VERDICTS
from evenhand.judging.model import (
    GroupAnswer,
    Judgement,
    OverDependence,
    ResponseGroup,
    SetupDependence,
    TitleDependence,
)
from evenhand.judging.pairs import pairs_of
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means

Floats = npt.NDArray[np.float64]

SAMPLES = 400
SEED = 20_26


def title_dependence(
    table: object,
    judgement: Judgement,
    measures: Sequence[str],
    advice: tuple[Recommendation, Preferences] | None = None,
    groups: Sequence[ResponseGroup] = (),
) -> TitleDependence:
    """How the verdicts over titles, of each setup against the baseline in `measures`, and the recommendation depend on titles.

    table : as `judge` takes it; judgement : its judgement; advice : the recommendation and what it was asked for; groups : those
    that are asked alone. The noise stays that of all titles (`subsets`). The same table gives the same answer: titles are drawn
    with a fixed seed. Raises what `judge` raises of a table.
    """
    runs, design = read_runs(table, judgement.design), judgement.design
    parts: dict[str, Measured] = {}
    for key in dict.fromkeys((*measures, *(advice[0].weights if advice else ()))):
        if (judged := judgement.measures.get(key)) is not None:
            visits = visit_means(runs, judged.measure, design)
            parts[key] = measured(field_of(analyse(visits, design, judged.rounds_used)))
    drawn = resampled(len(runs.titles), SAMPLES, SEED)
    setup = None
    if advice is not None and len(runs.titles) > 1:
        named = setup_named(parts, judgement, *advice)
        setup = setup_dependence(named, runs.titles, design.setups, named.gains(), groups, drawn)
    over = [found for key in measures if key in parts for found in _of_measure(parts[key], drawn)]
    return TitleDependence(tuple(over), setup, SAMPLES)


def resampled(titles: int, samples: int, seed: int) -> Floats:
    """(samples, T): how often each title counts where as many titles are drawn with replacement (Efron 1979)."""
    return np.random.default_rng(seed).multinomial(titles, np.full(titles, 1.0 / titles), samples).astype(np.float64)


def _of_measure(part: Measured, drawn: Floats) -> list[OverDependence]:
    field = part.field
    pairs = pairs_of(field.analysis.design)
    answers = [(p, part.over[pairs[p][0]]) for p in against_baseline(field) if field.has[:, p].sum() > 1]
    return [_over(part, p, answer, drawn) for p, answer in answers if answer is not None]


def _over(part: Measured, pair: int, verdict: Answer, drawn: Floats) -> OverDependence:
    field, design = part.field, part.field.analysis.design
    names = field.analysis.visits.titles
    setup, against = (design.setups[c] for c in pairs_of(design)[pair])
    among = np.flatnonzero(field.has[:, pair])
    every = np.ones((1, len(names)))
    estimate, shown = float(field.over(every)[0, pair]), int(verdict(every)[0])
    rest = field.over(without(len(names), among[:, None]))[:, pair]
    most = int(np.argmax(np.abs(rest - estimate)))
    order = among[np.argsort(field.estimate[among, pair], kind="stable")]
    turn, alone = smallest_turn(verdict, names, among, (order, order[::-1]), lambda code: VERDICTS[code].value)
    return OverDependence(
        measure=field.analysis.measure.key,
        setup=setup,
        against=against,
        estimate=estimate,
        verdict=VERDICTS[shown],
        most=names[among[most]],
        without=float(rest[most]),
        turns=tuple(names[t] for t in alone),
        turn=turn,
        same=float((verdict(drawn) == shown).mean()),
    )


def setup_dependence(
    answer: Answer,
    names: Sequence[str],
    setups: Sequence[str],
    gains: Floats,
    groups: Sequence[ResponseGroup],
    drawn: Floats,
) -> SetupDependence:
    """How the setup that `answer` names, as a place in `setups`, depends on the titles `names` (T,).

    gains : (T, C), better direction positive, -inf where absent; they tell which titles bear the answer most. drawn : (B, T), how
    often each title counts in resampled studies.
    """
    titles = len(names)
    shown = int(answer(np.ones((1, titles)))[0])
    finite = np.where(np.isfinite(gains), gains, 0.0)
    lead = finite[:, [shown]] - finite
    orders = [np.argsort(-lead[:, c], kind="stable") for c in range(len(setups)) if c != shown]
    turn, alone = smallest_turn(answer, names, np.arange(titles), orders, lambda code: setups[code])
    named = answer(drawn)
    shares = [(setups[c], float((named == c).mean())) for c in range(len(setups)) if (named == c).any()]
    own = np.array([[name in group.titles for name in names] for group in groups], dtype=np.float64).reshape(-1, titles)
    known = [(g, row) for g, row in zip(groups, own, strict=True) if row.any()]
    codes = answer(np.array([row for _, row in known])) if known else np.zeros(0, dtype=np.intp)
    return SetupDependence(
        setup=setups[shown],
        turns=tuple(names[t] for t in alone),
        turn=turn,
        shares=tuple(sorted(shares, key=lambda s: -s[1])),
        by_group=tuple(GroupAnswer(g.kind, g.titles, setups[int(c)]) for (g, _), c in zip(known, codes, strict=True)),
    )
