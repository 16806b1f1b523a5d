"""Sequences in which every treatment follows every other equally often (Williams 1949)."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.intp]


def williams(treatments: int) -> Ints:
    """(rows, treatments): each row holds every treatment once; over all rows each stands equally often at each place, and each
    ordered pair is equally often adjacent: once in the `treatments` rows of an even number, twice in the 2 × `treatments` rows of
    an odd one.

    Source: Williams, E. J. (1949), Aust. J. Sci. Res. A 2, 149–168; the first row goes 0, 1, n − 1, 2, n − 2 …, the others add 1
    to every entry of the row before; for an odd number every row is also taken backwards.
    """
    if treatments < 2:
        return np.zeros((treatments, treatments), dtype=np.intp)
    steps = np.arange(treatments)
    first = np.where(steps % 2, (steps + 1) // 2, (treatments - steps // 2) % treatments)
    square = (first[None, :] + steps[:, None]) % treatments
    return np.concatenate([square, square[:, ::-1]]) if treatments % 2 and treatments > 2 else square
