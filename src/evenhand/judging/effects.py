"""Which factor does it, and where factors need each other: contrasts of the setups' means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis, doubts_of, half_width, interval
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE, decide
from evenhand.judging.model import Design, Effect, Verdict
from evenhand.judging.over import title_votes
from evenhand.wording import listed

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FactorContrast:
    """weights : (C,) over the setups. levels : (level, reference) per factor. whole : every combination of the other factors'
    levels is in it.
    """

    factors: tuple[str, ...]
    levels: tuple[tuple[str, str], ...]
    weights: Floats
    whole: bool


def factor_contrasts(design: Design) -> tuple[tuple[FactorContrast, ...], tuple[str, ...]]:
    """(contrasts, notes on what the setups do not allow).

    Main effect of a level against the factor's first level, and interactions of any number of factors as differences of such
    differences: the mean over those combinations of the other factors' levels for which every setup needed exists.
    """
    factors = [f for f, levels in design.factors.items() if len(levels) > 1]
    place = {
        tuple(design.levels[name][f] for f in factors): i
        for i, name in enumerate(design.setups)
        if name in design.levels and all(f in design.levels[name] for f in factors)
    }
    found: list[FactorContrast] = []
    missing: list[str] = []
    for size in range(1, len(factors) + 1):
        for chosen in combinations(factors, size):
            for levels in _against_first(chosen, design.factors):
                contrast = _contrast(chosen, levels, factors, place, design)
                if contrast is None:
                    missing.append(" × ".join(f"{f} {level}" for f, (level, _) in zip(chosen, levels, strict=True)))
                else:
                    found.append(contrast)
    return tuple(found), _notes(found, missing)


def _against_first(chosen: Sequence[str], factors: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[tuple[str, str], ...]]:
    yield from product(*([(level, factors[f][0]) for level in factors[f][1:]] for f in chosen))


def _contrast(
    chosen: tuple[str, ...],
    levels: tuple[tuple[str, str], ...],
    factors: Sequence[str],
    place: Mapping[tuple[str, ...], int],
    design: Design,
) -> FactorContrast | None:
    others = [f for f in factors if f not in chosen]
    rows = []
    combinations_of_others = list(product(*(design.factors[f] for f in others)))
    for rest in combinations_of_others:
        fixed = dict(zip(others, rest, strict=True))
        row = np.zeros(len(design.setups))
        for picks in product((0, 1), repeat=len(chosen)):
            held = fixed | {f: pair[pick] for f, pair, pick in zip(chosen, levels, picks, strict=True)}
            setup = place.get(tuple(held[f] for f in factors))
            if setup is None:
                break
            row[setup] += -1.0 if sum(picks) % 2 else 1.0
        else:
            rows.append(row)
    if not rows:
        return None
    return FactorContrast(chosen, levels, np.mean(rows, axis=0), len(rows) == len(combinations_of_others))


def _notes(found: Sequence[FactorContrast], missing: Sequence[str]) -> tuple[str, ...]:
    notes = []
    if missing:
        notes.append(f"The setups do not allow the effect of {listed(list(missing))}: a setup it needs is not in the study.")
    part = [" × ".join(c.factors) for c in found if not c.whole]
    if part:
        names = listed(list(dict.fromkeys(part)))
        notes.append(f"The effect of {names} is a mean over those combinations of the other factors that the study has.")
    return tuple(notes)


def effects(analysis: Analysis, contrasts: Sequence[FactorContrast]) -> tuple[Effect, ...]:
    """Every factor contrast at every title that has its setups, then over those titles (title None)."""
    titles = len(analysis.visits.titles)
    found: list[Effect] = []
    for contrast in contrasts:
        at = np.flatnonzero(analysis.estimable(contrast.weights[None, :])[:, 0]).tolist()
        if not at:
            continue
        weights = np.tile(contrast.weights, (len(at), 1))
        found += _effects(analysis, contrast, [analysis.visits.titles[t] for t in at], np.eye(titles)[at], weights)
        votes = title_votes(analysis, at)[None, :]
        found += _effects(analysis, contrast, [None], votes, weights[:1])
    return tuple(found)


def _effects(
    analysis: Analysis,
    contrast: FactorContrast,
    titles: Sequence[str | None],
    title_weights: Floats,
    setup_weights: Floats,
) -> list[Effect]:
    found = analysis.contrasts(analysis.rows(title_weights, setup_weights))
    confidence, better = analysis.design.confidence, analysis.measure.better
    halves = half_width(found.se[0], t_quantile(found.df[0], confidence))
    inners = half_width(found.se[0], t_quantile(found.df[0], INNER_CONFIDENCE))
    single = analysis.single_visit(np.flatnonzero(contrast.weights))
    listed_effects = []
    for i, title in enumerate(titles):
        estimate, se, df = float(found.estimate[0, i]), float(found.se[0, i]), float(found.df[0, i])
        outer = interval(estimate, float(halves[i]), confidence)
        inner = interval(estimate, float(inners[i]), INNER_CONFIDENCE)
        listed_effects.append(
            Effect(
                measure=analysis.measure.key,
                title=title,
                factors=contrast.factors,
                levels=contrast.levels,
                estimate=estimate,
                se=se,
                df=df,
                pointwise=outer,
                margin=analysis.margin,
                verdict=decide(outer, inner, analysis.margin, better) if analysis.told else Verdict.UNTOLD,
                doubts=doubts_of(df, se, single),
            )
        )
    return listed_effects
