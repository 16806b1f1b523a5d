"""From the titles of a study to titles like these, and to one title not tested."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.noise import VisitNoise, shift_power

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Like:
    """Of one pair in S studies, each (S,): standard error and degrees of freedom of the mean over titles like these, and of one
    title not tested (infinite and 0 under three titles).
    """

    se: Floats
    df: Floats
    ahead_se: Floats
    ahead_df: Floats


def like_titles(noise: VisitNoise, effects: Floats, votes: Floats, shift_share: float, tau2: Floats) -> Like:
    """What the differences `effects` (S, k) at k >= 2 titles with `votes` (k,) say of others; tau2 : (S,).

    Var = S² Σ w² + a σ²_V, where S² is the variance of the titles' effects. 1/df = w^p / f_Z + u² / (k − 1), u the first part's
    share and w the second's, with p as at titles; for the share of a σ²_V, of which noise has been taken away, that of a s²_Z
    would be too much and its own too little: their mean. The prediction adds τ² and has one degree of freedom fewer (Higgins,
    Thompson & Spiegelhalter 2009); τ² is what noise leaves of S², so that the spread of S² counts in the place of one τ² of two.
    """
    titles = effects.shape[1]
    spread = effects.var(axis=1, ddof=1)
    from_titles = spread * (votes**2).sum()
    variance = from_titles + shift_share * noise.shift
    shift = np.minimum(shift_share * (noise.shift + noise.total) / 2, variance)
    df = _degrees_of_freedom(noise, variance, shift, from_titles**2 / (titles - 1))
    if titles < 3:
        return Like(np.sqrt(variance), df, np.full(df.shape, np.inf), np.zeros(df.shape))
    ahead = variance + tau2
    own = (from_titles + tau2) * (from_titles + spread) / (titles - 2)
    return Like(np.sqrt(variance), df, np.sqrt(ahead), _degrees_of_freedom(noise, ahead, shift, own))


def _degrees_of_freedom(noise: VisitNoise, variance: Floats, shift: Floats, own: Floats) -> Floats:
    """own : square of the titles' part over its degrees of freedom. At least 1; 1 where there is no variance at all."""
    share = np.divide(shift, variance, out=np.ones_like(shift), where=variance > 0)
    rest = np.divide(own, variance**2, out=np.ones_like(own), where=variance > 0)
    return 1.0 / np.minimum(share ** shift_power(noise.total_df) / noise.total_df + rest, 1.0)
