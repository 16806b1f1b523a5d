"""What the factors of a design allow to be told: weights of the setups' means for every effect, and in words what they do not.

An effect is the mean over combinations of the other factors' levels for which every setup it needs exists, which assumes
nothing. A main effect for which there is no such combination is taken by least squares under an additive model (factors do not
need each other), and says so; what cannot be told even then is named together with what it always changed with.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from evenhand.judging.model import Design
from evenhand.wording import listed

Floats = npt.NDArray[np.float64]
Term = tuple[str, str]  # factor, level

_SMALL = 1e-8
MOST_NAMED = 4


@dataclass(frozen=True, slots=True, eq=False)
class FactorContrast:
    """weights : (C,) over the setups. levels : (level, reference) per factor. whole : every combination of the other factors'
    levels is in it. additive : it holds only if factors do not need each other.
    """

    factors: tuple[str, ...]
    levels: tuple[tuple[str, str], ...]
    weights: Floats
    whole: bool
    additive: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class LevelMeans:
    """levels : those that a setup has, L of them, in the design's order. weights : (L, C), a row each; only differences of rows
    mean anything.
    """

    factor: str
    levels: tuple[str, ...]
    weights: Floats
    additive: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """The setups as combinations of levels. place : combination -> index of the setup. factors : those that vary."""

    design: Design
    factors: tuple[str, ...]
    place: Mapping[tuple[str, ...], int]

    def levels(self, factor: str) -> tuple[str, ...]:
        """Levels of a factor that a setup has, in the design's order."""
        return _levels_seen(self.design, factor)

    def setup(self, held: Mapping[str, str]) -> int | None:
        """The setup with these levels of all factors."""
        return self.place.get(tuple(held[f] for f in self.factors))

    def others(self, chosen: Sequence[str]) -> list[dict[str, str]]:
        """Every combination of the levels of the factors that are not chosen."""
        rest = [f for f in self.factors if f not in chosen]
        return [dict(zip(rest, levels, strict=True)) for levels in product(*(self.levels(f) for f in rest))]


def factor_contrasts(design: Design) -> tuple[tuple[FactorContrast, ...], tuple[str, ...]]:
    """(contrasts, notes on what the setups do not allow).

    Main effect of a level against the factor's first level, and interactions of any number of factors as differences of such
    differences.
    """
    grid = _grid(design)
    if not grid.place:
        return (), ()
    additive = _Additive.of(grid)
    found: list[FactorContrast] = []
    missing: list[str] = []
    for size in range(1, len(grid.factors) + 1):
        for chosen in combinations(grid.factors, size):
            for levels in _against_first(grid, chosen):
                contrast = _over_common(grid, chosen, levels)
                if contrast is None and size == 1:
                    contrast = additive.contrast(chosen[0], levels[0])
                if contrast is not None:
                    found.append(contrast)
                elif size > 1:
                    missing.append(" × ".join(f"{f} {level}" for f, (level, _) in zip(chosen, levels, strict=True)))
    return tuple(found), (*_never_varied(design), *additive.notes(found), *_notes(found, missing))


def level_means(design: Design, factor: str) -> LevelMeans | None:
    """A mean for each level of a factor: over the combinations of the other factors that every level has, else by the additive
    model; None where neither can be had.
    """
    grid = _grid(design)
    if factor not in grid.factors:
        return None
    levels, rows = grid.levels(factor), []
    for rest in grid.others([factor]):
        setups = [grid.setup(rest | {factor: level}) for level in levels]
        if None not in setups:
            rows.append(np.eye(len(design.setups))[np.array(setups, dtype=np.intp)])
    if rows:
        return LevelMeans(factor, levels, np.mean(rows, axis=0), additive=False)
    additive = _Additive.of(grid)
    parts = [additive.contrast(factor, (level, levels[0])) for level in levels[1:]]
    if any(p is None for p in parts):
        return None
    weights = np.array([np.zeros(len(design.setups)), *(p.weights for p in parts if p)])
    return LevelMeans(factor, levels, weights, additive=True)


def _grid(design: Design) -> _Grid:
    factors = tuple(f for f in design.factors if len(_levels_seen(design, f)) > 1)
    place = {
        tuple(design.levels[name][f] for f in factors): i
        for i, name in enumerate(design.setups)
        if name in design.levels and all(f in design.levels[name] for f in factors)
    }
    return _Grid(design, factors, place)


def _levels_seen(design: Design, factor: str) -> tuple[str, ...]:
    seen = {levels.get(factor) for levels in design.levels.values()}
    return tuple(level for level in design.factors[factor] if level in seen)


def _never_varied(design: Design) -> tuple[str, ...]:
    same = [f for f, levels in design.factors.items() if len(levels) > 1 and len(_levels_seen(design, f)) == 1]
    return (f"The effect of {listed(same)} cannot be told: every setup has the same level.",) if same else ()


def _against_first(grid: _Grid, chosen: Sequence[str]) -> Iterator[tuple[tuple[str, str], ...]]:
    yield from product(*([(level, grid.levels(f)[0]) for level in grid.levels(f)[1:]] for f in chosen))


def _over_common(grid: _Grid, chosen: tuple[str, ...], levels: tuple[tuple[str, str], ...]) -> FactorContrast | None:
    """The mean over those combinations of the other factors for which every setup needed exists; None where there is none."""
    rows = []
    rests = grid.others(chosen)
    for rest in rests:
        row = np.zeros(len(grid.design.setups))
        for picks in product((0, 1), repeat=len(chosen)):
            setup = grid.setup(rest | {f: pair[pick] for f, pair, pick in zip(chosen, levels, picks, strict=True)})
            if setup is None:
                break
            row[setup] += -1.0 if sum(picks) % 2 else 1.0
        else:
            rows.append(row)
    if not rows:
        return None
    return FactorContrast(chosen, levels, np.mean(rows, axis=0), len(rows) == len(rests))


@dataclass(frozen=True, slots=True, eq=False)
class _Additive:
    """Least squares over the setups with a term for each level after the first. terms : columns of `columns` after the constant.
    solved : (terms, setups), null : (1 + terms, n) orthonormal, what the setups cannot tell.
    """

    grid: _Grid
    terms: tuple[Term, ...]
    columns: Floats
    used: npt.NDArray[np.intp]
    solved: Floats
    null: Floats

    @classmethod
    def of(cls, grid: _Grid) -> _Additive:
        """The additive model of the setups that have a level of every factor."""
        terms = tuple((f, level) for f in grid.factors for level in grid.levels(f)[1:])
        combos = list(grid.place)
        columns = np.array([[1.0, *(float(c[grid.factors.index(f)] == level) for f, level in terms)] for c in combos])
        columns = columns.reshape(len(combos), 1 + len(terms))
        _, values, right = np.linalg.svd(columns, full_matrices=True)
        rank = int((values > _SMALL).sum())
        used = np.array(list(grid.place.values()), dtype=np.intp)
        return cls(grid, terms, columns, used, np.linalg.pinv(columns)[1:], right[rank:].T)

    def contrast(self, factor: str, levels: tuple[str, str]) -> FactorContrast | None:
        """Main effect of a level against the first, None where it cannot be told."""
        at = self.terms.index((factor, levels[0]))
        if self._lost(at):
            return None
        weights = np.zeros(len(self.grid.design.setups))
        weights[self.used] = self.solved[at]
        return FactorContrast((factor,), (levels,), weights, whole=False, additive=True)

    def _lost(self, term: int) -> bool:
        return bool(np.abs(self.null[1 + term]).max(initial=0.0) > _SMALL)

    def notes(self, found: Sequence[FactorContrast]) -> tuple[str, ...]:
        """What cannot be told from what, and what rests on the additive model."""
        told = {(c.factors[0], c.levels[0][0]) for c in found if len(c.factors) == 1}
        lost = [term for term in self.terms if term not in told]
        partners = {term: self._partners(term) for term in lost}
        notes, said = [], set[frozenset[Term]]()
        for term, (others, together) in partners.items():
            group = frozenset((term, *others))
            if group not in said:
                said.add(group)
                notes.append(_untold(self._named(term), [self._named(o) for o in others], together))
        additive = [c for c in found if c.additive]
        if additive:
            notes.append(self._assumption(additive))
        return tuple(notes)

    def _partners(self, term: Term) -> tuple[list[Term], bool]:
        """(the terms that a lost term cannot be told from, whether they always changed together)."""
        at = 1 + self.terms.index(term)
        mine = self.columns[:, at]
        same = [
            t
            for i, t in enumerate(self.terms, start=1)
            if i != at and (np.array_equal(self.columns[:, i], mine) or np.array_equal(self.columns[:, i], 1 - mine))
        ]
        if same:
            return same, True
        along = self.null @ self.null[at]
        return [t for i, t in enumerate(self.terms, start=1) if i != at and abs(along[i]) > _SMALL], False

    def _named(self, term: Term) -> str:
        """The factor alone where it has two levels."""
        return term[0] if len(self.grid.levels(term[0])) == 2 else f"{term[0]} {term[1]}"

    def _assumption(self, additive: Sequence[FactorContrast]) -> str:
        """Names the main effects that rest on the model, and the pairs of factors that would pass for them."""
        parts, mixed = [], False
        for c in additive:
            pairs = [f"{a} and {b}" for a, b in combinations(self.grid.factors, 2) if self._passes_for(c, a, b)]
            name = self._named((c.factors[0], c.levels[0][0]))
            parts.append(f"{name} ({_few(pairs)})" if pairs else name)
            mixed = mixed or bool(pairs)
        why = "because no two setups differ in it alone"
        said = f"The effect of {_few(parts)} is taken as if factors did not need each other, {why}"
        return f"{said} (in brackets: pairs that, if they did, would pass for it)." if mixed else f"{said}."

    def _passes_for(self, contrast: FactorContrast, a: str, b: str) -> bool:
        """Whether an interaction of two factors would show in the contrast."""
        weights = contrast.weights[self.used]
        one, other = (_centred_levels(self.grid, f) for f in (a, b))
        return any(abs(weights @ (x * y)) > _SMALL for x in one for y in other)


def _centred_levels(grid: _Grid, factor: str) -> list[Floats]:
    """A column for each level after the first, that sums to zero over the factor's levels."""
    at, levels = grid.factors.index(factor), grid.levels(factor)
    return [np.array([float(c[at] == level) - float(c[at] == levels[0]) for c in grid.place]) for level in levels[1:]]


def _untold(name: str, others: Sequence[str], together: bool) -> str:
    if together:
        return f"The effect of {name} cannot be told from that of {listed(others)}, because they always changed together."
    return f"The effect of {name} cannot be told apart from those of {listed(others)} in these setups."


def _few(names: Sequence[str]) -> str:
    """All of a short list, the beginning of a long one."""
    rest = len(names) - MOST_NAMED
    return listed([*names[:MOST_NAMED], f"{rest} more"] if rest > 0 else list(names))


def _notes(found: Sequence[FactorContrast], missing: Sequence[str]) -> tuple[str, ...]:
    notes = []
    if missing:
        notes.append(f"The setups do not allow the effect of {_few(missing)}: a setup it needs is not in the study.")
    part = [" × ".join(c.factors) for c in found if not c.whole and not c.additive]
    if part:
        names = _few(list(dict.fromkeys(part)))
        notes.append(f"The effect of {names} is a mean over those combinations of the other factors that the study has.")
    return tuple(notes)
