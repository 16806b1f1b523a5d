"""Which visits exist, and the linear algebra that follows from it alone: nothing here has seen a value.

Model of a visit mean of title t, setup c, visit v:  M_tcv = A_tc + [B_v] + V_cv + W_tcv
A: what is asked. B: shift of a round (fixed, only with rounds). V: shift of a visit shared by all titles, variance σ²_V.
W: the title's own residual (title-by-visit shift and run noise), variance ω²_t.

A `Layout` is made once per pattern of present visits and serves any number of studies at once (the rehearsal counts
thousands with the very arrays that `judge` uses for one). Derivations: docs/methods/visits-and-rounds.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

#: σ²_V / ω² that the estimates are weighted with where visits are missing. In a complete layout every ratio gives the cell means.
WORKING_RATIO = 1.0
_SMALL = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """N present visits of T titles, C setups, V visit numbers.

    present : (T, C, V). title, setup, visit : (N,) indices. rounds : whether B is a term.
    weights : (T, C, N), rows of the estimate of A_tc; only differences within a title are free of B. Zero where a cell is absent.
    round_part : (T, C, V), what each estimate holds of B; a contrast is estimable where its part is zero (or rounds is False).
    shift_basis : (N, f) orthonormal, the visits' differences after titles and rounds. own_basis : (N, g) all visits' differences.
    shift_scale, shift_df : divisor of the sum of squares along shift_basis that makes it an estimate of σ²_V + Σ h_t ω²_t,
    and its degrees of freedom (0: visits and setups cannot be told apart). own_in_shift : (T,), h_t.
    own_scale, own_df : (T,), divisor and degrees of freedom of a title's own residual sum of squares (0: it has none).
    setup_scale, setup_df : (C,), the same of a setup's.
    """

    present: Bools
    title: Ints
    setup: Ints
    visit: Ints
    rounds: bool
    weights: Floats
    round_part: Floats
    shift_basis: Floats
    own_basis: Floats
    shift_scale: float
    shift_df: float
    own_in_shift: Floats
    own_scale: Floats
    own_df: Floats
    setup_scale: Floats
    setup_df: Floats

    @property
    def shape(self) -> tuple[int, int, int]:
        """(titles, setups, visits)."""
        titles, setups, visits = self.present.shape
        return titles, setups, visits

    @property
    def cells(self) -> Bools:
        """(T, C): which cells have at least one visit."""
        return np.asarray(self.present.any(axis=2))

    @property
    def balanced(self) -> bool:
        """Every cell has every visit."""
        return bool(self.present.all())

    def pick(self, values: Floats) -> Floats:
        """(..., T, C, V) -> (..., N) in the layout's order."""
        return np.asarray(values[..., self.present])


def layout_of(present: Bools, rounds: bool) -> Layout:
    """The layout of a pattern (T, C, V) of present visits; kept for the next call with the same pattern."""
    return _layout(np.packbits(present).tobytes(), present.shape, rounds)


def complete_rounds(present: Bools) -> bool:
    """Whether every setup that was visited has the same visits, at least two of each, and at least two setups."""
    visited: Bools = np.asarray(present.any(axis=0))
    visited = visited[np.asarray(visited.any(axis=1))][:, np.asarray(visited.any(axis=0))]
    return bool(visited.all()) and visited.shape[0] > 1 and visited.shape[1] > 1


@lru_cache(maxsize=256)
def _layout(packed: bytes, shape: tuple[int, int, int], rounds: bool) -> Layout:
    present = np.unpackbits(np.frombuffer(packed, dtype=np.uint8), count=int(np.prod(shape))).astype(bool).reshape(shape)
    title, setup, visit = np.nonzero(present)
    titles, setups, visits = shape
    cell = title * setups + setup
    shifts = _centred(_dummies(setup * visits + visit, setups * visits), cell)
    blocks = _centred(_dummies(visit, visits), cell) if rounds else np.zeros((title.size, 0))
    own_basis = _basis(shifts)
    block_basis = _basis(blocks)
    shift_basis = _basis(shifts - block_basis @ (block_basis.T @ shifts))
    scale, df, own_in_shift = _shift_moments(shifts, shift_basis, title, titles)
    own_scale, own_df = _own_moments(own_basis, cell, title, titles)
    setup_scale, setup_df = _own_moments(own_basis, cell, setup, setups)
    weights, round_part = _estimates(title, setup, visit, shape, rounds)
    return Layout(
        present,
        title,
        setup,
        visit,
        rounds,
        weights,
        round_part,
        shift_basis,
        own_basis,
        scale,
        df,
        own_in_shift,
        own_scale,
        own_df,
        setup_scale,
        setup_df,
    )


def _dummies(index: Ints, count: int) -> Floats:
    return np.asarray(np.equal.outer(index, np.arange(count)), dtype=np.float64)


def _centred(columns: Floats, cell: Ints) -> Floats:
    """Columns with the mean of each cell taken out."""
    count = np.bincount(cell)
    sums = np.zeros((count.size, columns.shape[1]))
    np.add.at(sums, cell, columns)
    return np.asarray(columns - sums[cell] / count[cell, None])


def _basis(columns: Floats) -> Floats:
    """Orthonormal basis of the columns' span."""
    if columns.size == 0:
        return np.zeros((columns.shape[0], 0))
    values, vectors = np.linalg.eigh(columns.T @ columns)
    keep = values > _SMALL * max(1.0, float(values.max()))
    return np.asarray(columns @ (vectors[:, keep] / np.sqrt(values[keep])))


def _shift_moments(shifts: Floats, basis: Floats, title: Ints, titles: int) -> tuple[float, float, Floats]:
    """(divisor, df, h): E y'UU'y = σ²_V tr(U'ZZ'U) + Σ_t ω²_t |U_t|²; df from the spread of U'ZZ'U's eigenvalues."""
    if basis.shape[1] == 0:
        return 1.0, 0.0, np.zeros(titles)
    within = basis.T @ shifts
    seen = within @ within.T
    scale = float(np.trace(seen))
    df = scale**2 / float((seen**2).sum())
    return scale, df, np.bincount(title, (basis**2).sum(axis=1), titles) / scale


def _own_moments(basis: Floats, cell: Ints, group: Ints, groups: int) -> tuple[Floats, Floats]:
    """For each title (or setup), the trace of its block of the residual projection and (trace)² / trace of the square."""
    scale, df = np.zeros(groups), np.zeros(groups)
    for g in range(groups):
        rows = np.flatnonzero(group == g)
        same = np.equal.outer(cell[rows], cell[rows]).astype(np.float64)
        block = np.eye(rows.size) - same / same.sum(axis=1) - basis[rows] @ basis[rows].T
        trace = float(np.trace(block))
        if trace > _SMALL * max(rows.size, 1):
            scale[g], df[g] = trace, trace**2 / float((block**2).sum())
    return scale, df


def _estimates(title: Ints, setup: Ints, visit: Ints, shape: tuple[int, int, int], rounds: bool) -> tuple[Floats, Floats]:
    """Generalised least squares under the working ratio: (weights (T, C, N), round part (T, C, V)); plain means if complete."""
    titles, setups, visits = shape
    cell = title * setups + setup
    if title.size == titles * setups * visits:
        plain = _dummies(cell, titles * setups).T / visits
        return plain.reshape(titles, setups, -1), np.full(shape, 1.0 / visits)
    used, compact = np.unique(cell, return_inverse=True)
    fixed = _dummies(compact, used.size)
    if rounds:
        fixed = np.concatenate([fixed, _dummies(visit, visits)], axis=1)
    shifts = _dummies(setup * visits + visit, setups * visits)
    shared = WORKING_RATIO / (1.0 + WORKING_RATIO * shifts.sum(axis=0))
    weighted = fixed - shifts @ (shared[:, None] * (shifts.T @ fixed))
    solved = np.linalg.pinv(fixed.T @ weighted, rcond=1e-10, hermitian=True) @ weighted.T
    weights = np.zeros((titles * setups, title.size))
    weights[used] = solved[: used.size]
    part = weights @ _dummies(visit, visits)
    return weights.reshape(titles, setups, -1), part.reshape(titles, setups, visits)
