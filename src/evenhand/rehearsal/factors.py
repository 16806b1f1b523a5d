"""Studies with known factor effects: how often the effects of a title hold at once, how often a knee is told wrongly.

python -m evenhand.rehearsal.factors prints the tables of docs/methods/factor-effects.md and numeric-levels.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from evenhand.judging.contrasts import factor_contrasts
from evenhand.judging.critical import t_quantile
from evenhand.judging.decide import INNER_CONFIDENCE
from evenhand.judging.family import family_quantiles
from evenhand.judging.knee import knee
from evenhand.judging.layout import layout_of
from evenhand.judging.model import Design
from evenhand.judging.noise import Estimates, contrast_weights, estimates, visit_noise
from evenhand.judging.trends import NumericFactor, fitted_curve, numeric_factors
from evenhand.rehearsal.count import Share
from evenhand.rehearsal.simulate import Truth, simulate

Floats = npt.NDArray[np.float64]

VALUES: Final = (4800.0, 5200.0, 5600.0, 6000.0, 6400.0)


@dataclass(frozen=True, slots=True)
class EffectShares:
    """Of studies without any effect, judged at the first title. family : all intervals cover 0. pointwise : all of the intervals
    that each effect would have by itself do.
    """

    family: Share
    pointwise: Share


@dataclass(frozen=True, slots=True)
class LevelShares:
    """Judged at the first title. band : the whole curve lies in its band. too_high : a level is called too low that is not;
    too_low : a level is called enough that is not. told : the knee is told, rightly or wrongly.
    """

    band: Share
    too_high: Share
    too_low: Share
    told: Share


def count_effects(factors: int, truth: Truth, studies: int, seed: int, confidence: float = 0.95) -> EffectShares:
    """Two levels a factor; truth.setups is taken from the number of factors."""
    names = tuple("".join(c) for c in product("ab", repeat=factors))
    levels = {name: {f"f{i}": level for i, level in enumerate(name)} for name in names}
    design = Design(names, names[0], (), levels, {f"f{i}": ("a", "b") for i in range(factors)})
    weights = np.array([c.weights for c in factor_contrasts(design)[0]])
    found, visits = _at_first_title(replace(truth, setups=len(names)), weights, studies, seed)
    size = np.abs(found.estimate)
    together = family_quantiles(weights, visits, found.df, confidence) * found.se
    alone = t_quantile(found.df, confidence) * found.se
    return EffectShares(*(_share(np.asarray((size <= half).all(axis=1))) for half in (together, alone)))


def count_levels(
    gains: Sequence[float], truth: Truth, studies: int, seed: int, margin: float = math.log(1.03), confidence: float = 0.95
) -> LevelShares:
    """gains : true log gain of each level, as many of `VALUES`; truth.setups and effects are taken from them."""
    (factor,) = numeric_factors(_levels_design(len(gains)))
    found, visits = _at_first_title(replace(truth, setups=len(gains), effects=tuple(gains)), factor.rows, studies, seed)
    together = family_quantiles(factor.rows, visits, found.df, confidence) * found.se
    inner = t_quantile(found.df, INNER_CONFIDENCE) * found.se
    right = _true_knee(np.array(gains), margin)
    truth_curve = np.array(gains) - gains[0]
    rows = [_judged(factor, found.estimate[s], together[s], inner[s], margin) for s in range(studies)]
    covers = [bool(((low - 1e-12 <= truth_curve) & (truth_curve <= high + 1e-12)).all()) for low, high, _, _ in rows]
    at_least, enough = np.array([(a, e) for _, _, a, e in rows]).T
    return LevelShares(
        _share(np.array(covers)), _share(at_least > right), _share(enough < right), _share(np.asarray(at_least == enough))
    )


def _levels_design(levels: int) -> Design:
    names = tuple(f"{v:.0f}" for v in VALUES[:levels])
    return Design(
        names,
        names[0],
        (),
        {n: {"speed": n} for n in names},
        {"speed": names},
        values={"speed": dict(zip(names, VALUES, strict=False))},
    )


def _at_first_title(truth: Truth, weights: Floats, studies: int, seed: int) -> tuple[Estimates, npt.NDArray[np.intp]]:
    """(contrasts of the setups (K, C) at the first title, (S, K); visits (C,))."""
    simulated = simulate(truth, np.random.default_rng(seed), studies)
    layout = layout_of(simulated.present, rounds=False)
    means = layout.pick(simulated.values.mean(axis=-1))
    rows = contrast_weights(layout, np.tile(np.eye(truth.titles)[0], (weights.shape[0], 1)), weights)
    return estimates(layout, visit_noise(layout, means), means, rows), np.asarray(layout.present[0].sum(axis=1))


def _judged(
    factor: NumericFactor, estimate: Floats, together: Floats, inner: Floats, margin: float
) -> tuple[Floats, Floats, int, int]:
    """(low, high, at least, enough) of one study, by the functions that judge."""
    size = len(factor.levels)
    slope = size * (size - 1) // 2
    direction = 1 if estimate[slope] > together[slope] else -1 if estimate[slope] < -together[slope] else 0
    first = factor.pairs[0, 1:]
    measured, half = np.append(0.0, estimate[first]), np.append(0.0, together[first])
    curve = fitted_curve(measured, half, direction, np.ones(size), 0)
    sign = np.triu(np.ones((size, size))) - np.tril(np.ones((size, size)))
    at_least, enough = knee(sign * estimate[factor.pairs], together[factor.pairs], inner[factor.pairs], margin)
    return curve.low, curve.high, at_least, enough


def _true_knee(gains: Floats, margin: float) -> int:
    """The lowest level from which on no higher level is better by more than the margin."""
    beyond = np.triu(gains[None, :] - gains[:, None], 1) > margin + 1e-12
    lacking = np.flatnonzero(beyond.any(axis=1))
    return int(lacking[-1]) + 1 if lacking.size else 0


def _share(holds: npt.NDArray[np.bool_]) -> Share:
    share = float(holds.mean())
    return Share(share, math.sqrt(max(share * (1 - share), 0.25 / holds.size) / holds.size))


EFFECTS: Final = tuple(
    (factors, Truth(titles, 2, visits, 2, 0.02, shift, 0.005))
    for factors, titles, visits in ((2, 1, 3), (2, 8, 2), (3, 1, 2), (3, 8, 2), (4, 8, 2))
    for shift in (0.0, 0.03)
)
#: Curves with a name; those at the margin are where a knee is most easily told wrongly, on either side.
CURVES: Final = {
    "flat": (0.0, 0.0, 0.0, 0.0),
    "at the margin": (0.0, math.log(1.03), math.log(1.03), math.log(1.03)),
    "just beyond the margin": (0.0, math.log(1.0301), math.log(1.0301), math.log(1.0301)),
    "pays up to the third": (0.0, 0.04, 0.08, 0.085),
    "to the end": (0.0, 0.04, 0.08, 0.12),
}
LEVELS: Final = tuple(
    (name, Truth(titles, 4, visits, 2, 0.01, shift, 0.003))
    for name in CURVES
    for titles, visits in ((1, 3), (8, 2))
    for shift in (0.0, 0.01)
)


def tables(studies: int = 4000, seed: int = 9) -> tuple[str, str]:
    """Both as Markdown."""
    effects, levels = [], []
    for i, (k, t) in enumerate(EFFECTS):
        found = count_effects(k, t, studies, seed + i)
        effects.append((f"{2**k - 1} of 2^{k}", *_kind(t), _per_cent(found.family), _per_cent(found.pointwise)))
    for i, (name, t) in enumerate(LEVELS):
        shares = count_levels(CURVES[name], t, studies, seed + i)
        counted = (shares.band, shares.too_high, shares.too_low, shares.told)
        levels.append((name, *_kind(t), *(_per_cent(s) for s in counted)))
    study = ("titles", "visits", "visit shift")
    return (
        _table(("effects", *study, "all cover, together", "all cover, each alone"), effects),
        _table(("curve", *study, "band covers", "wrongly too low", "wrongly enough", "knee told"), levels),
    )


def _kind(truth: Truth) -> tuple[str, ...]:
    return str(truth.titles), str(truth.visits), f"{truth.visit_shift:.0%}"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


def _per_cent(share: Share) -> str:
    return f"{100 * share.value:.1f}"


if __name__ == "__main__":
    print("\n\n".join(tables()))
