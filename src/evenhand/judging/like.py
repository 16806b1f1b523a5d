"""From the titles of a study to titles like these, and to one title not tested."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.noise import VisitNoise, combined_df

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

    Var = S² Σ w² + a σ²_V, where S² is the variance of the titles' effects; df by `combined_df` from k − 1 and f_Z. For the share
    of a σ²_V, of which noise has been taken away, that of a s²_Z would be too much and its own too little: their mean. The
    prediction adds τ² and has one degree of freedom fewer (Higgins, Thompson & Spiegelhalter 2009); τ² is what noise leaves of S²
    and is known no better than that, so that half of it counts with the spread of S².
    """
    titles = effects.shape[1]
    spread = effects.var(axis=1, ddof=1)
    from_titles = spread * (votes**2).sum()
    variance = from_titles + shift_share * noise.shift
    shift = shift_share * (noise.shift + noise.total) / 2
    df = _whole_df(variance, from_titles, titles - 1, shift, noise.total_df)
    if titles < 3:
        return Like(np.sqrt(variance), df, np.full(df.shape, np.inf), np.zeros(df.shape))
    ahead = variance + tau2
    own = np.sqrt((from_titles + tau2) * (from_titles + spread))
    return Like(np.sqrt(variance), df, np.sqrt(ahead), _whole_df(ahead, own, titles - 2, shift, noise.total_df))


def _whole_df(variance: Floats, own: Floats, own_df: float, shift: Floats, shift_df: float) -> Floats:
    shares = [np.divide(part, variance, out=np.ones_like(part), where=variance > 0) for part in (shift, own)]
    return np.maximum(combined_df((np.minimum(shares[0], 1.0), shares[1]), (shift_df, own_df)), 1.0)
