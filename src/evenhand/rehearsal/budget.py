"""Which setups deserve the next visits: optimal computing budget allocation (Chen, Lin, Yücesan & Chick 2000).

To tell the best of several, more draws belong to what is near the best and to what is noisy; a setup far behind needs none.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


def shares(means: Floats, variances: Floats, least: float = 0.0) -> Floats:
    """(C,): share of all draws that each design should have in the end, larger means being better.

    N_i / N_j = (σ_i / δ_i)² / (σ_j / δ_j)², δ the distance to the best; N_b = σ_b √(Σ N_i² / σ_i²). least : smaller distances
    count as this one, so that designs that may as well be equal do not take every draw. variances : of one draw, > 0.
    Raises ValueError where another design is as good as the best and `least` is 0.
    """
    best = int(np.argmax(means))
    others = np.arange(means.size) != best
    distance = np.maximum(means[best] - means[others], least)
    if not (distance > 0).all():
        raise ValueError("two designs are equally good: state the least difference that matters")
    wanted = np.zeros(means.size)
    wanted[others] = variances[others] / distance**2
    wanted[best] = np.sqrt(variances[best] * (wanted[others] ** 2 / variances[others]).sum())
    return np.asarray(wanted / wanted.sum())


def next_draws(means: Floats, variances: Floats, used: Ints, further: int, least: float = 0.0) -> Ints:
    """(C,): `further` whole draws beside those `used` (C,). What has more than its share already gets none, and the rest share.

    Whole numbers by largest remainder; equal remainders go to the better design.
    """
    fraction = shares(means, variances, least)
    open_to = np.ones(means.size, dtype=bool)
    while True:
        total = further + used[open_to].sum()
        wanted = np.where(open_to, fraction / fraction[open_to].sum() * total - used, 0.0)
        if (wanted >= 0).all():
            break
        open_to &= wanted >= 0
    whole = np.floor(wanted + 1e-9).astype(np.intp)
    rest = wanted - whole
    order = np.lexsort((-means, -np.round(rest, 9)))
    whole[order[: further - int(whole.sum())]] += 1
    return whole
