"""Looking at data more than once: boundaries that spend a stated error over several looks, and what unplanned looks cost.

At each look |z| of the data so far is compared with a boundary; the error is the chance that any look crosses it though nothing
is there. Sums of independent increments are followed from look to look by recursive numerical integration (Armitage, McPherson &
Rowe 1969, JRSS A 132, 235–244; Jennison & Turnbull 2000, Group Sequential Methods, chapter 19). How the error is shared out is a
function of the share of the data that is in (Lan & DeMets 1983, Biometrika 70, 659–663), so looks need not be evenly spaced.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

Floats = npt.NDArray[np.float64]

#: (share of the planned data that is in, error) -> error spent, on both sides together.
Spending: TypeAlias = Callable[[npt.ArrayLike, float], Floats]

#: Boundaries are not looked for beyond this: a look that has nothing to spend.
FARTHEST: Final = 9.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(400)


def obrien_fleming(share: npt.ArrayLike, error: float) -> Floats:
    """Error spent when `share` (0 < share <= 1, any shape) of the planned data is in, half of `error` on either side: hardly any
    at first, nearly all at the end, like the boundaries of O'Brien & Fleming (1979); 2 − 2Φ(z / √share) on a side.
    """
    t = np.minimum(np.asarray(share, dtype=np.float64), 1.0)
    return np.asarray(4 * special.ndtr(special.ndtri(error / 4) / np.sqrt(t)))


def pocock(share: npt.ArrayLike, error: float) -> Floats:
    """The same, so that all looks have nearly the same boundary, like those of Pocock (1977): error · ln(1 + (e − 1) share)."""
    return np.asarray(error * np.log1p((np.e - 1) * np.minimum(np.asarray(share, dtype=np.float64), 1.0)))


@lru_cache(maxsize=256)
def nominal_levels(spending: Spending, shares: tuple[float, ...], error: float) -> tuple[float, ...]:
    """Two-sided level at which each look is tested by itself. shares : ascending, of the planned data; the last gets all error
    that is left.

    The same levels serve with t in place of z (the significance-level approach: Pocock 1977, Biometrika 64, 191–199; Jennison &
    Turnbull 2000, section 3.8).
    """
    totals = spending(np.array(shares), error)
    totals[-1] = error
    return tuple(level_of(boundaries(shares, totals)).tolist())


def level_of(boundary: npt.ArrayLike) -> Floats:
    """Two-sided level of |z| beyond `boundary`, any shape."""
    return np.asarray(2 * special.ndtr(-np.asarray(boundary, dtype=np.float64)))


def boundary_of(level: npt.ArrayLike) -> Floats:
    """|z| whose two-sided level is `level`, any shape."""
    return np.asarray(-special.ndtri(np.asarray(level, dtype=np.float64) / 2))


def boundaries(shares: Sequence[float], totals: npt.ArrayLike) -> Floats:
    """(K,): boundary of |z| at each look, so that by look k it is crossed with probability totals[k] where nothing is there.

    shares : (K,), ascending, of the data in. Accurate to about 1e-6.
    """
    found: list[float] = []
    walk = _Walk()
    before = 0.0
    for share, total in zip(shares, np.asarray(totals, dtype=np.float64), strict=True):
        found.append(walk.boundary(share, max(float(total) - before, 0.0)))
        before += walk.step(share, found[-1])
    return np.array(found)


def crossed(shares: Sequence[float], boundary: npt.ArrayLike) -> Floats:
    """(K,): probability, where nothing is there, that |z| has crossed its boundary (K,) at look k or before.

    shares : (K,), ascending, of the data in; only their ratios matter.
    """
    walk = _Walk()
    at_each = [walk.step(share, float(b)) for share, b in zip(shares, np.asarray(boundary, dtype=np.float64), strict=True)]
    return np.cumsum(at_each)


class _Walk:
    """Density of the sum s = z · sqrt(share) over studies that have crossed no boundary yet, at Gauss nodes."""

    def __init__(self) -> None:
        self._share = 0.0
        self._at: Floats = np.zeros(1)
        self._mass: Floats = np.ones(1)  # density times the node's weight

    def boundary(self, share: float, error: float) -> float:
        """|z| at the next look that is crossed with probability `error`."""
        if self._beyond(share, FARTHEST) >= error:
            return FARTHEST
        return float(optimize.brentq(lambda b: self._beyond(share, b) - error, 0.0, FARTHEST, xtol=1e-10))

    def step(self, share: float, boundary: float) -> float:
        """Go on to the next look; the probability of crossing there."""
        left = self._beyond(share, boundary)
        width = np.sqrt(share - self._share)
        edge = min(boundary, FARTHEST) * np.sqrt(share)
        at, weights = edge * _NODES, edge * _WEIGHTS
        density = np.exp(-(((at[:, None] - self._at) / width) ** 2) / 2) / (width * np.sqrt(2 * np.pi))
        self._share, self._at, self._mass = share, at, weights * (density @ self._mass)
        return left

    def _beyond(self, share: float, boundary: float) -> float:
        """Probability of getting to the next look and crossing there."""
        width, edge = np.sqrt(share - self._share), boundary * np.sqrt(share)
        outside = special.ndtr((-edge - self._at) / width) + special.ndtr((self._at - edge) / width)
        return float(self._mass @ outside)
