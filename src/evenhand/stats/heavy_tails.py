"""Partial pooling of units (titles) whose true effects are not normal: most lie close together, a few far away.

Unit t has effects μ + u_t in J directions. It is known through its information P_t (inverse of its error's covariance, 0 along
directions of which nothing is known) and h_t = P_t · estimate. u_t is normal with covariance λ R; λ is one of two sizes, a narrow
one for most units and a wide one for a share of them. R (which directions go together) and μ are learned from all units; sizes
and share are not fixed at their likeliest values but averaged over, as the units allow, with a flat prior of the standard
deviations. Any number of such problems is solved at once along leading axes (...).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

SIZES = 13
#: The smallest size, as a standard deviation, in median standard errors: no estimate could show it.
SMALLEST = 0.1
#: Shares of the wide part that are tried.
SHARES = (0.05, 0.15, 0.35)
#: Units' worth of belief that no direction is favoured.
ROUND_BELIEF = 8.0
ITERATIONS = 10

_ALL = np.arange(SIZES)
_NARROW, _WIDE = np.triu_indices(SIZES, 1)
#: Mixtures (H,): first those of one size (the normal distribution), then each pair of sizes with each share.
NARROW: Ints = np.concatenate([_ALL, np.repeat(_NARROW, len(SHARES))])
WIDE: Ints = np.concatenate([_ALL, np.repeat(_WIDE, len(SHARES))])
SHARE: Floats = np.concatenate([np.zeros(SIZES), np.tile(SHARES, _NARROW.size)])


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """What was learned. T units, J directions, K sizes, H mixtures.

    sizes : (..., K), λ, ascending. root : (..., J, J), a root of R. chance : (..., H), of each mixture.
    likelihood : (..., T, K), of a unit at each size, its largest 1. centre : (..., J), μ.
    turn : (..., T, J, J), from the directions in which prior and information of the unit are both diagonal to u.
    known, pull : (..., T, J), in those directions the information, and h − P μ.
    """

    sizes: Floats
    root: Floats
    chance: Floats
    likelihood: Floats
    centre: Floats
    turn: Floats
    known: Floats
    pull: Floats

    @property
    def size_chance(self) -> Floats:
        """(..., T, K): chance of each size for each unit, over all mixtures."""
        of_wide = self.chance[..., None, :] * wide_chance(self.likelihood)
        of_narrow = self.chance[..., None, :] - of_wide
        return np.asarray(of_narrow @ np.eye(SIZES)[NARROW] + of_wide @ np.eye(SIZES)[WIDE])

    @property
    def told(self) -> Floats:
        """(..., T, K, J): 1 + λ × information."""
        return np.asarray(1.0 + self.sizes[..., None, :, None] * self.known[..., None, :])

    @property
    def lean(self) -> Floats:
        """(..., T, J, J): the transposed inverse of `turn`."""
        return np.asarray(np.linalg.inv(self.root @ np.swapaxes(self.root, -1, -2))[..., None, :, :] @ self.turn)

    @property
    def effects(self) -> Floats:
        """(..., T, J): μ + u_t, posterior means."""
        kept = (self.size_chance[..., None] * self.sizes[..., None, :, None] / self.told).sum(axis=-2)
        return np.asarray(self.centre[..., None, :] + _apply(self.turn, kept * self.pull))

    @property
    def covariance(self) -> Floats:
        """(..., T, J, J): posterior, of each unit by itself; the uncertainty of μ is in it."""
        chance, kept = self.size_chance[..., None], self.sizes[..., None, :, None] / self.told
        mean = kept * self.pull[..., None, :]
        away = np.sqrt(chance) * (mean - (chance * mean).sum(axis=-2, keepdims=True))
        own = np.swapaxes(away, -1, -2) @ away + (chance * kept).sum(axis=-2)[..., None] * np.eye(kept.shape[-1])
        own = self.turn @ own @ np.swapaxes(self.turn, -1, -2)
        left = (chance / self.told).sum(axis=-2)
        loose = (self.turn * left[..., None, :]) @ np.swapaxes(self.lean, -1, -2)
        weight = (self.lean * (left * self.known)[..., None, :]) @ np.swapaxes(self.lean, -1, -2)
        centre = _inverse(weight.sum(axis=-3))[..., None, :, :]
        return np.asarray(own + loose @ centre @ np.swapaxes(loose, -1, -2))


def pool(information: Floats, weighted: Floats) -> Pooled:
    """Learn from P (..., T, J, J) and h (..., T, J); T >= 2, J >= 1."""
    centre, sizes = _start(information, weighted)
    prior = _prior(sizes)
    root = np.broadcast_to(np.eye(weighted.shape[-1]), (*weighted.shape[:-2], *information.shape[-2:]))
    found = _expect(information, weighted, sizes, root, centre, prior)
    for _ in range(ITERATIONS):
        centre, root = _maximise(found)
        found = _expect(information, weighted, sizes, root, centre, prior)
    return found


def draws(found: Pooled, count: int, rng: np.random.Generator) -> Floats:
    """(count, T, J): draws of μ + u_t from the posterior of one problem (no leading axes)."""
    units, directions = found.pull.shape
    mixture = rng.choice(SHARE.size, count, p=found.chance)
    wide = rng.random((count, units)) < wide_chance(found.likelihood)[:, mixture].T
    size = np.where(wide, WIDE[mixture, None], NARROW[mixture, None])
    told, lean = found.told, found.lean
    weights = (lean[:, None] * (found.known[:, None] / told)[:, :, None, :]) @ np.swapaxes(lean, -1, -2)[:, None]
    pulls = _apply(lean[:, None], found.pull[:, None] / told)
    unit = np.arange(units)
    spread = _inverse(weights[unit, size].sum(axis=1))
    values, vectors = np.linalg.eigh(spread)
    loose = vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]
    step = _apply(spread, pulls[unit, size].sum(axis=1)) + _apply(loose, rng.standard_normal((count, directions)))
    moved = found.pull - found.known * _apply(np.swapaxes(lean, -1, -2), step[:, None, :])
    kept = found.sizes[size][..., None] / told[unit, size]
    own = kept * moved + np.sqrt(kept) * rng.standard_normal(moved.shape)
    return np.asarray(found.centre + step[:, None, :] + _apply(found.turn, own))


def wide_chance(likelihood: Floats) -> Floats:
    """(..., T, H): chance that a unit is of the wide part, under each mixture."""
    wide = SHARE * likelihood[..., WIDE]
    whole = wide + (1.0 - SHARE) * likelihood[..., NARROW]
    return np.asarray(np.divide(wide, whole, out=np.zeros_like(wide), where=whole > 0))


def _start(information: Floats, weighted: Floats) -> tuple[Floats, Floats]:
    """(centre, sizes): the mean of the estimates weighted by what is known of them; sizes from what no estimate could show to
    beyond the farthest unit.
    """
    directions = weighted.shape[-1]
    centre = _solve(information.sum(axis=-3), weighted.sum(axis=-2))
    away = _solve(information, weighted - _apply(information, centre[..., None, :]))
    farthest = (away**2).sum(axis=-1).max(axis=-1) / directions
    error = directions / np.median(np.trace(information, axis1=-2, axis2=-1), axis=-1)
    low = SMALLEST**2 * error
    high = np.maximum(4.0 * farthest, 100.0 * low)
    return centre, np.asarray(low[..., None] * (high / low)[..., None] ** np.linspace(0.0, 1.0, SIZES))


def _prior(sizes: Floats) -> Floats:
    """(..., H): half for one size, half for two; standard deviations flat (Gelman 2006), the narrow one below the wide."""
    sd = np.sqrt(sizes)
    one = sd / sd.sum(axis=-1, keepdims=True)
    below = np.cumsum(sd, axis=-1)[..., _WIDE - 1]
    two = sd[..., _WIDE] * sd[..., _NARROW] / below
    two /= two.sum(axis=-1, keepdims=True)
    return np.concatenate([0.5 * one, 0.5 * np.repeat(two, len(SHARES), axis=-1) / len(SHARES)], axis=-1)


def _expect(information: Floats, weighted: Floats, sizes: Floats, root: Floats, centre: Floats, prior: Floats) -> Pooled:
    """How likely each size is at each unit, and each mixture at all of them."""
    across = np.swapaxes(root, -1, -2)[..., None, :, :]
    known, turn = np.linalg.eigh(across @ information @ root[..., None, :, :])
    known = np.maximum(known, 0.0)
    turn = root[..., None, :, :] @ turn
    pull = _apply(np.swapaxes(turn, -1, -2), weighted - _apply(information, centre[..., None, :]))
    told = 1.0 + sizes[..., None, :, None] * known[..., None, :]
    log = 0.5 * (sizes[..., None, :, None] * pull[..., None, :] ** 2 / told - np.log(told)).sum(axis=-1)
    likelihood = np.exp(log - log.max(axis=-1, keepdims=True))
    whole = SHARE * likelihood[..., WIDE] + (1.0 - SHARE) * likelihood[..., NARROW]
    support = np.log(np.maximum(whole, 1e-300)).sum(axis=-2) + np.log(prior)
    chance = np.exp(support - support.max(axis=-1, keepdims=True))
    return Pooled(sizes, root, chance / chance.sum(axis=-1, keepdims=True), likelihood, centre, turn, known, pull)


def _maximise(found: Pooled) -> tuple[Floats, Floats]:
    """(centre, root of R), given the chances of the sizes: a weighted mean, and the mean square of the units' distances in
    multiples of their own size, so that a unit far away says no more of R than one close by.
    """
    chance, sizes, told = found.size_chance[..., None], found.sizes[..., None, :, None], found.told
    kept = (chance / told).sum(axis=-2)
    lean = found.lean
    weight = (lean * (kept * found.known)[..., None, :]) @ np.swapaxes(lean, -1, -2)
    step = _solve(weight.sum(axis=-3), _apply(lean, kept * found.pull).sum(axis=-2))
    far = np.sqrt(chance * sizes) * found.pull[..., None, :] / told
    square = np.swapaxes(far, -1, -2) @ far + kept[..., None] * np.eye(kept.shape[-1])
    shape = (found.turn @ square @ np.swapaxes(found.turn, -1, -2)).sum(axis=-3)
    shape += ROUND_BELIEF * np.eye(shape.shape[-1])
    shape *= shape.shape[-1] / np.trace(shape, axis1=-2, axis2=-1)[..., None, None]
    return found.centre + step, np.linalg.cholesky(shape)


def _apply(matrix: Floats, vector: Floats) -> Floats:
    return np.asarray((matrix @ vector[..., None])[..., 0])


def _solve(matrix: Floats, vector: Floats) -> Floats:
    """matrix⁻¹ vector; 0 along directions that the matrix does not know."""
    return _apply(_inverse(matrix), vector)


def _inverse(matrix: Floats) -> Floats:
    return np.asarray(np.linalg.pinv(matrix, rcond=1e-10, hermitian=True))
