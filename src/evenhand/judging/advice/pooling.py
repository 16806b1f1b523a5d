"""Partial pooling of the titles' contrasts: what each title says of its setups, drawn towards what the others say as far as they
are alike. Titles are not normal, most are level and a few collapse, so a title far from the rest keeps its own value.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis
from evenhand.judging.layout import Layout
from evenhand.judging.model import Comparison, PooledCells
from evenhand.judging.noise import per_visit
from evenhand.stats.heavy_tails import Pooled, pool

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: Below this many degrees of freedom a title's own noise is not trusted less still.
LEAST_DF = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class _Geometry:
    """What follows from the layout alone. T titles (`titles`, indices) with C setups (`setups`, indices), J = C − 1 directions.

    present : (T, C). basis : (C, J), orthonormal, free of what all setups share. rows : (T, J, N), weights of the visits in the
    differences that a title knows (zero rows where it knows fewer). seen : (T, J, J), what these see of the directions.
    shift : (J, K), what each visit's shift puts on all titles; extra : (T, J, K), on a title beside it (0 in complete layouts).
    """

    titles: npt.NDArray[np.intp]
    setups: npt.NDArray[np.intp]
    present: Bools
    basis: Floats
    rows: Floats
    seen: Floats
    shift: Floats
    extra: Floats


def pooled(analyses: Sequence[Analysis]) -> tuple[PooledCells | None, ...]:
    """The titles' contrasts to the baseline, partially pooled, one answer a measure.

    None where visits and setups cannot be told apart, or where no title has the baseline beside another setup.
    """
    parts = {i: g for i, a in enumerate(analyses) if a.told and (g := _geometry(a.layout, _baseline(a))) is not None}
    alike: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for i, geometry in parts.items():
        alike[geometry.seen.shape].append(i)
    answers: list[PooledCells | None] = [None] * len(analyses)
    for members in alike.values():
        known = [_known(analyses[i], parts[i]) for i in members]
        spreads: Sequence[Pooled | None] = [None] * len(members)
        if known[0][0].shape[0] > 1:
            spreads = _apart(pool(np.stack([p for p, _ in known]), np.stack([h for _, h in known])))
        for i, (information, weighted), spread in zip(members, known, spreads, strict=True):
            answers[i] = _cells(analyses[i], parts[i], information, weighted, spread)
    return tuple(answers)


def with_pooled(compared: Sequence[Comparison], cells: PooledCells | None) -> tuple[Comparison, ...]:
    """The comparisons with their partially pooled estimates; as they are where nothing was pooled, or a single title."""
    if cells is None or cells.spread is None:
        return tuple(compared)
    addresses = product(cells.titles, cells.setups)
    place = dict(zip(addresses, cells.estimate.ravel().tolist(), strict=True))
    return tuple(_filled(c, place) for c in compared)


def _filled(compared: Comparison, place: Mapping[tuple[str, str], float]) -> Comparison:
    one, other = place.get((compared.title, compared.setup)), place.get((compared.title, compared.against))
    return compared if one is None or other is None else replace(compared, pooled=float(one - other))


def _baseline(analysis: Analysis) -> int:
    return analysis.design.setups.index(analysis.design.baseline)


@lru_cache(maxsize=16)
def _geometry(layout: Layout, baseline: int) -> _Geometry | None:
    known = np.array([_comparable(layout, t, baseline) for t in range(layout.shape[0])])
    titles, setups = np.flatnonzero(known.any(axis=1)), np.flatnonzero(known.any(axis=0))
    if not known[:, baseline].any():
        return None
    present = known[np.ix_(titles, setups)]
    basis = contrast_basis(setups.size)
    size = setups.size - 1
    rows, seen = np.zeros((titles.size, size, layout.title.size)), np.zeros((titles.size, size, size))
    for i, t in enumerate(titles):
        mine = np.flatnonzero(present[i])
        own = contrast_basis(mine.size)
        rows[i, : mine.size - 1] = own.T @ layout.weights[t][setups[mine]]
        seen[i, : mine.size - 1] = own.T @ basis[mine]
    shifts = per_visit(layout, rows.reshape(-1, layout.title.size)).reshape(titles.size, size, -1)
    shift: Floats = np.linalg.pinv(seen.reshape(-1, size)) @ shifts.reshape(-1, shifts.shape[-1])
    return _Geometry(titles, setups, present, basis, rows, seen, shift, shifts - seen @ shift)


def _comparable(layout: Layout, title: int, baseline: int) -> Bools:
    """(C,): setups of a title that can be compared with its baseline, where it has none with its first; none if that is all."""
    there = layout.cells[title].copy()
    if not there.any():
        return np.asarray(there)
    first = baseline if there[baseline] else int(np.flatnonzero(there)[0])
    if layout.rounds:
        part = layout.round_part[title]
        there &= np.abs(part - part[first]).max(axis=1) < 1e-8
    return np.asarray(there & (there.sum() > 1))


def contrast_basis(setups: int) -> Floats:
    """(C, C − 1): orthonormal columns that each sum to 0 (Helmert)."""
    columns = np.zeros((setups, setups - 1))
    for j in range(setups - 1):
        columns[: j + 1, j], columns[j + 1, j] = 1.0, -(j + 1.0)
        columns[:, j] /= np.linalg.norm(columns[:, j])
    return columns


def _known(analysis: Analysis, geometry: _Geometry) -> tuple[Floats, Floats]:
    """(information (T, J, J), times the estimate (T, J)) of each title, by its own noise; the shared shift is left out.

    A variance known on few degrees of freedom is enlarged by that of Student's t.
    """
    found = analysis.noise
    values = geometry.rows @ analysis.means[0]
    own = (found.own[0] * _loosened(found.own_df[0]))[analysis.layout.title] * found.setups[0][analysis.layout.setup]
    noise = (geometry.rows * own) @ np.swapaxes(geometry.rows, -1, -2)
    noise += float(found.shift[0]) * geometry.extra @ np.swapaxes(geometry.extra, -1, -2)
    blank = ~geometry.rows.any(axis=-1)
    floor = 1e-12 * float(np.ptp(values)) ** 2 + 1e-24
    noise += np.where(blank, 1.0, floor)[..., None] * np.eye(noise.shape[-1])
    leaned = np.swapaxes(geometry.seen, -1, -2) @ np.linalg.inv(noise)
    return leaned @ geometry.seen, (leaned @ values[..., None])[..., 0]


def _loosened(df: Floats) -> Floats:
    enough = np.maximum(df, LEAST_DF)
    return np.asarray(enough / (enough - 2.0))


def _apart(many: Pooled) -> list[Pooled]:
    parts = {f.name: getattr(many, f.name) for f in fields(many)}
    return [Pooled(**{name: values[i] for name, values in parts.items()}) for i in range(many.centre.shape[0])]


def _cells(analysis: Analysis, geometry: _Geometry, information: Floats, weighted: Floats, spread: Pooled | None) -> PooledCells:
    names = analysis.design.setups
    setups = tuple(names[c] for c in geometry.setups)
    against = setups.index(analysis.design.baseline)
    contrast = geometry.basis - geometry.basis[against]
    shift = contrast @ geometry.shift
    found = analysis.noise
    if spread is None:
        effects = np.linalg.solve(information, weighted[..., None])[..., 0]
        own = np.zeros(information.shape)
    else:
        effects, own = spread.effects, spread.covariance
    return PooledCells(
        measure=analysis.measure,
        margin=analysis.margin,
        titles=tuple(analysis.visits.titles[t] for t in geometry.titles),
        setups=setups,
        baseline=setups[against],
        present=geometry.present,
        raw=_raw(analysis, geometry, against),
        estimate=effects @ contrast.T,
        own=contrast @ own @ contrast.T,
        shared=float(found.shift[0]) * shift @ shift.T,
        spread=spread,
        contrast=contrast,
        shift=shift,
        total=float(found.total[0]),
        total_df=found.total_df,
        own_share=float(found.own[0] @ analysis.layout.own_in_shift) if spread is not None else 0.0,
    )


def _raw(analysis: Analysis, geometry: _Geometry, against: int) -> Floats:
    """(T, C): contrasts to the baseline as measured, NaN where one of the two is absent."""
    cells = analysis.layout.weights @ analysis.means[0]
    mine = cells[np.ix_(geometry.titles, geometry.setups)]
    both = geometry.present & geometry.present[:, [against]]
    return np.asarray(np.where(both, mine - mine[:, [against]], np.nan))
