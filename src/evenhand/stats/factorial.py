"""Designs in which every level of a factor meets every level of the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]

MEAN = ""  # the name of the effect of no factor


@dataclass(frozen=True, slots=True, eq=False)
class TwoLevel:
    """A 2^k factorial design read by its sign table. Names of effects join factor names: "", "A", "B", "AB".

    effects : half the change from the low to the high level; "" is the grand mean. sums_of_squares, shares : per effect
    without the mean, and of the error under "error"; shares add to 1 (allocation of variation).
    sd_effect : standard error of an effect, NaN without replicates. intervals : effect -> (low, high).
    """

    effects: Mapping[str, float]
    sums_of_squares: Mapping[str, float]
    shares: Mapping[str, float]
    df_error: int
    sd_error: float
    sd_effect: float
    intervals: Mapping[str, tuple[float, float]]


def two_level(y: ArrayLike, factors: Sequence[str], confidence: float = 0.95) -> TwoLevel:
    """Effects of a 2^k design with r replicates (Jain 1991, chapters 17 and 18).

    y : shape (2^k, r), rows in Yates order (the first factor changes fastest). Without replicates (r = 1) there is no
    error to judge by and the intervals are infinite.
    """
    table = np.asarray(y, np.float64)
    if table.ndim != 2 or table.shape[0] != 2 ** len(factors):
        raise ValueError(f"{len(factors)} factors need {2 ** len(factors)} rows")
    rows, r = table.shape
    signs = sign_table(factors)
    means = table.mean(axis=1)
    effects = {name: float(column @ means) / rows for name, column in signs.items()}
    squares = {name: rows * r * q * q for name, q in effects.items() if name != MEAN}
    squares["error"] = float(np.sum((table - means[:, None]) ** 2))
    total = sum(squares.values())
    df = rows * (r - 1)
    sd_error = float(np.sqrt(squares["error"] / df)) if df else float("nan")
    sd_effect = sd_error / float(np.sqrt(rows * r))
    half = sd_effect * float(stats.t.ppf((1 + confidence) / 2, df)) if df else float("inf")
    return TwoLevel(
        effects=effects,
        sums_of_squares=squares,
        shares={name: s / total if total else float("nan") for name, s in squares.items()},
        df_error=df,
        sd_error=sd_error,
        sd_effect=sd_effect,
        intervals={name: (q - half, q + half) for name, q in effects.items()},
    )


def sign_table(factors: Sequence[str]) -> dict[str, Floats]:
    """Effect name -> its column of -1 and +1 over the rows in Yates order, the mean first, then by number of factors."""
    rows = np.arange(2 ** len(factors))
    single = {name: np.where(rows >> bit & 1, 1.0, -1.0) for bit, name in enumerate(factors)}
    table = {MEAN: np.ones(rows.size)}
    for size in range(1, len(factors) + 1):
        for group in combinations(factors, size):
            table["".join(group)] = np.prod([single[name] for name in group], axis=0)
    return table


@dataclass(frozen=True, slots=True, eq=False)
class TwoWay:
    """A table of one value a cell, rows × columns, read as mean + row + column + rest.

    ss_columns, ss_rows, ss_error : sums of squares with df_columns, df_rows, df_error. f_*, p_* : F tests against the rest.
    sd_column, sd_row : standard errors of an effect.
    """

    mean: float
    columns: Floats
    rows: Floats
    residuals: Floats
    ss_columns: float
    ss_rows: float
    ss_error: float
    df_columns: int
    df_rows: int
    df_error: int
    f_columns: float
    p_columns: float
    f_rows: float
    p_rows: float
    sd_error: float
    sd_column: float
    sd_row: float


def two_way(y: ArrayLike) -> TwoWay:
    """Two factors, one value a cell (Jain 1991, chapter 21). y : shape (rows, columns), both at least 2.

    The interaction is taken for error: where it is real, the tests are too cautious.
    """
    table = np.asarray(y, np.float64)
    if table.ndim != 2 or min(table.shape) < 2:
        raise ValueError("needs at least two rows and two columns")
    b, a = table.shape
    mean = float(table.mean())
    columns, rows = table.mean(axis=0) - mean, table.mean(axis=1) - mean
    rest = table - mean - columns[None, :] - rows[:, None]
    ss_a, ss_b, ss_e = b * float(columns @ columns), a * float(rows @ rows), float(np.sum(rest**2))
    df_a, df_b = a - 1, b - 1
    df_e = df_a * df_b
    f_a, p_a = _f_test(ss_a, df_a, ss_e, df_e)
    f_b, p_b = _f_test(ss_b, df_b, ss_e, df_e)
    sd = float(np.sqrt(ss_e / df_e))
    return TwoWay(
        mean=mean,
        columns=columns,
        rows=rows,
        residuals=rest,
        ss_columns=ss_a,
        ss_rows=ss_b,
        ss_error=ss_e,
        df_columns=df_a,
        df_rows=df_b,
        df_error=df_e,
        f_columns=f_a,
        p_columns=p_a,
        f_rows=f_b,
        p_rows=p_b,
        sd_error=sd,
        sd_column=sd * float(np.sqrt(df_a / (a * b))),
        sd_row=sd * float(np.sqrt(df_b / (a * b))),
    )


@dataclass(frozen=True, slots=True)
class OneWay:
    """One factor: sums of squares between and within its groups, F test, share explained, residual standard deviation."""

    ss_between: float
    df_between: int
    ss_within: float
    df_within: int
    f: float
    p: float
    r2: float
    sd_error: float


def one_way(groups: Sequence[ArrayLike]) -> OneWay:
    """One-way analysis of variance. groups : at least two, each one row of values, together more values than groups."""
    rows = [np.asarray(g, np.float64) for g in groups]
    n, k = sum(g.size for g in rows), len(rows)
    if k < 2 or n <= k or any(g.size == 0 for g in rows):
        raise ValueError("needs at least two groups, none empty, and more values than groups")
    # Taken from the grand mean first: large values with small spread lose digits otherwise.
    grand = float(np.mean(np.concatenate(rows)))
    rows = [g - grand for g in rows]
    offset = float(np.mean(np.concatenate(rows)))
    means = [float(g.mean()) for g in rows]
    between = sum(g.size * (m - offset) ** 2 for g, m in zip(rows, means, strict=True))
    within = sum(float(np.sum((g - m) ** 2)) for g, m in zip(rows, means, strict=True))
    f, p = _f_test(between, k - 1, within, n - k)
    total = between + within
    r2 = between / total if total > 0 else float("nan")
    return OneWay(between, k - 1, within, n - k, f, p, r2, float(np.sqrt(within / (n - k))))


def _f_test(ss: float, df: int, ss_error: float, df_error: int) -> tuple[float, float]:
    """F and its p value; an error of exactly zero makes every effect certain."""
    if ss_error == 0:
        return (float("inf"), 0.0) if ss > 0 else (float("nan"), float("nan"))
    f = ss / df / (ss_error / df_error)
    return f, float(stats.f.sf(f, df, df_error))
