"""Which setups are compared with which, and every pair at every title."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt

from evenhand.judging import settle
from evenhand.judging.analysis import Analysis, doubts_of, half_width, interval, p_values
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import decide, leaning
from evenhand.judging.model import Comparison, Design, Verdict
from evenhand.judging.noise import Estimates
from evenhand.stats.multiplicity import benjamini_hochberg

Floats = npt.NDArray[np.float64]
Pair = tuple[int, int]


def pairs_of(design: Design) -> tuple[Pair, ...]:
    """(setup, against) of each unordered pair once: against the baseline where it is in the pair, else against the earlier."""
    base = design.setups.index(design.baseline)
    return tuple((a, b) if b == base else (b, a) for a, b in combinations(range(len(design.setups)), 2))


def pair_weights(pairs: Sequence[Pair], setups: int) -> Floats:
    """(K, C): +1 at the setup, −1 at what it is compared against."""
    weights = np.zeros((len(pairs), setups))
    for row, (setup, against) in enumerate(pairs):
        weights[row, setup], weights[row, against] = 1.0, -1.0
    return weights


def comparisons(analysis: Analysis) -> tuple[Comparison, ...]:
    """Every pair of setups at every title that has both, titles outside, in the design's order."""
    pairs = pairs_of(analysis.design)
    weights = pair_weights(pairs, len(analysis.design.setups))
    title, pair = np.nonzero(analysis.estimable(weights))
    return tuple(_compare(analysis, pairs, title, pair, weights)) if title.size else ()


def _compare(
    analysis: Analysis, pairs: Sequence[Pair], title: npt.NDArray[np.intp], pair: npt.NDArray[np.intp], weights: Floats
) -> list[Comparison]:
    titles, _, _ = analysis.layout.shape
    design, margin = analysis.design, analysis.margin
    rows = analysis.rows(np.eye(titles)[title], weights[pair])
    found = analysis.contrasts(rows)
    estimate, se, df = found.estimate[0], found.se[0], found.df[0]
    halves = _half_widths(analysis, title, rows, found)
    p = p_values(estimate, se, df)
    false_discovery = _false_discovery(analysis, pair, p)
    visits = harmonic_visits(analysis, title, [pairs[k] for k in pair])
    further = settle.further_visits(estimate, se, df, visits, margin, analysis.setups, design.confidence)
    run_variance = analysis.run_variance(rows)
    apart = [analysis.setup_doubts(np.array(p)) for p in pairs]
    compared = []
    for i, (t, k) in enumerate(zip(title.tolist(), pair.tolist(), strict=True)):
        setup, against = pairs[k]
        around = [interval(float(estimate[i]), float(h[i]), c) for h, c in zip(halves, _confidences(design), strict=True)]
        verdict = decide(around[0], around[2], margin, analysis.measure.better) if analysis.told else Verdict.UNTOLD
        compared.append(
            Comparison(
                measure=analysis.measure.key,
                title=analysis.visits.titles[t],
                setup=design.setups[setup],
                against=design.setups[against],
                estimate=float(estimate[i]),
                se=float(se[i]),
                df=float(df[i]),
                simultaneous=around[0],
                pointwise=around[1],
                inner=around[2],
                margin=margin,
                verdict=verdict,
                tipping=tipping(analysis, float(estimate[i]), float(found.shift_share[i]), float(run_variance[i])),
                visits_to_settle=int(further[i]) or None if verdict is Verdict.OPEN else None,
                doubts=_doubts(analysis, t, pairs[k], float(df[i]), float(se[i]), apart[k]),
                leaning=leaning(around[0], analysis.measure.better),
                p_value=float(p[i]) if analysis.told else None,
                false_discovery=false_discovery[i],
            )
        )
    return compared


def _half_widths(
    analysis: Analysis, title: npt.NDArray[np.intp], rows: Floats, found: Estimates
) -> tuple[Floats, Floats, Floats]:
    """Over all pairs of the title, of this pair alone, and for the two one-sided tests; each (K,)."""
    se, df = found.se[0], found.df[0]
    return (
        half_width(se, analysis.title_quantiles(title, rows, found.df)[0]),
        half_width(se, t_quantile(df, analysis.design.confidence)),
        half_width(se, t_quantile(df, analysis.design.inner)),
    )


def tipping(analysis: Analysis, estimate: float, shift_share: float, run_variance: float) -> float | None:
    """The tipping point of a one-visit estimate, None where there are visits to judge by."""
    if analysis.told:
        return None
    return settle.tipping_point(estimate, shift_share, run_variance, analysis.design.confidence)


def harmonic_visits(analysis: Analysis, title: npt.NDArray[np.intp], pairs: Sequence[Pair]) -> Floats:
    """(K,): harmonic mean of the two setups' numbers of visits at the title."""
    counts = analysis.visits_of
    both = np.array([[counts[t, a], counts[t, b]] for t, (a, b) in zip(title.tolist(), pairs, strict=True)], dtype=np.float64)
    return np.asarray(2.0 / (1.0 / np.maximum(both, 1e-9)).sum(axis=1))


def _confidences(design: Design) -> tuple[float, float, float]:
    return design.confidence, design.confidence, design.inner


def _doubts(analysis: Analysis, title: int, pair: Pair, df: float, se: float, apart: tuple[str, ...]) -> tuple[str, ...]:
    single = analysis.single_visit(np.array(pair))
    borrowed = analysis.told and bool((analysis.layout.own_df > 0).any()) and analysis.layout.own_df[title] == 0
    return (*doubts_of(df, se, single, borrowed), *apart)


def _false_discovery(analysis: Analysis, pair: npt.NDArray[np.intp], p: Floats) -> list[float | None]:
    """The p values (K,) adjusted over the titles of each pair; None where there are none."""
    if not analysis.told:
        return [None] * p.size
    adjusted = np.empty_like(p)
    for k in np.unique(pair):
        adjusted[pair == k] = benjamini_hochberg(p[pair == k])
    return [float(q) for q in adjusted]
