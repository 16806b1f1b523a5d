"""A count out of a number of tries."""

from __future__ import annotations

from scipy import special


def clopper_pearson(hits: int, tries: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval (low, high) of a share (Clopper & Pearson 1934): covers at least `confidence`, usually more.

    Without a try nothing is known: (0, 1). ValueError unless 0 <= hits <= tries.
    """
    if not 0 <= hits <= tries:
        raise ValueError("hits lie between 0 and the number of tries")
    if tries == 0:
        return 0.0, 1.0
    tail = (1.0 - confidence) / 2.0
    low = special.betaincinv(hits, tries - hits + 1, tail) if hits else 0.0
    high = special.betaincinv(hits + 1, tries - hits, 1.0 - tail) if hits < tries else 1.0
    return float(low), float(high)
