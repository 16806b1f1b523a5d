"""From a long table to arrays: one value a run, whatever library the table comes from."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar, cast

import numpy as np
import numpy.typing as npt

from evenhand.errors import JudgingError, Problem
from evenhand.judging.model import Design
from evenhand.wording import counted, listed, nearest

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
K = TypeVar("K", bound=Hashable)

NEEDED = ("title", "setup", "visit", "run", "measure", "value")


class Frame(Protocol):
    """What polars' and pandas' data frames have in common."""

    @property
    def columns(self) -> Any:
        """Names of the columns."""

    def __getitem__(self, name: str) -> Any:
        """A column with `to_list()`."""


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """The table as codes: `title`, `scene` ... index into the tuples of names; all arrays (rows,).

    scenes : (title index, scene name) of each scene. visits : labels in ascending order.
    """

    titles: tuple[str, ...]
    scenes: tuple[tuple[int, str], ...]
    visits: tuple[Hashable, ...]
    measures: tuple[str, ...]
    title: Ints
    scene: Ints
    setup: Ints
    visit: Ints
    measure: Ints
    value: Floats
    run_count: int


def read_runs(table: object, design: Design) -> Runs:
    """Codes and values of the rows whose measure the design names.

    Raises JudgingError: a column is missing, a setup is not the design's, a value is no number, a run is there twice, no row.
    """
    columns = _columns(table)
    wanted = {m.key for m in design.measures}
    keep = [i for i, key in enumerate(columns["measure"]) if str(key) in wanted]
    if not keep:
        found = listed(sorted({str(key) for key in columns["measure"]})[:8]) or "no row at all"
        raise JudgingError(Problem("table-empty", f"the table has no row of the measures asked for; it has {found}", "measure"))
    picked = {name: [values[i] for i in keep] for name, values in columns.items()}
    setups = {name: i for i, name in enumerate(design.setups)}
    _check_setups(picked["setup"], setups)
    titles, title = _codes(str(name) for name in picked["title"])
    scenes, scene = _codes(zip(title.tolist(), (str(name or "") for name in picked["scene"]), strict=True))
    measures, measure = _codes(str(key) for key in picked["measure"])
    visits = tuple(sorted(set(picked["visit"]), key=lambda v: (isinstance(v, str), v)))
    places = {label: i for i, label in enumerate(visits)}
    setup = np.array([setups[str(name)] for name in picked["setup"]], dtype=np.intp)
    visit = np.array([places[label] for label in picked["visit"]], dtype=np.intp)
    addresses = list(zip(scene.tolist(), setup.tolist(), visit.tolist(), (str(r) for r in picked["run"]), strict=True))
    _check_doubled(addresses, measure, scenes, titles, design)
    return Runs(
        titles, scenes, visits, measures, title, scene, setup, visit, measure, _values(picked["value"]), len(set(addresses))
    )


def _columns(table: object) -> dict[str, list[Any]]:
    """Every needed column as a list; `scene` filled with "" where there is none."""
    if isinstance(table, Mapping):
        columns = {str(name): list(values) for name, values in table.items()}
    elif hasattr(table, "columns") and hasattr(table, "__getitem__"):
        frame = cast(Frame, table)
        columns = {str(name): frame[name].to_list() for name in frame.columns}
    elif isinstance(table, Iterable):
        columns = _columns_of_records(list(table))
    else:
        raise JudgingError(Problem("table-kind", f"a table is a data frame or a list of records, not {type(table).__name__}"))
    missing = [name for name in NEEDED if name not in columns]
    if missing:
        has = listed(sorted(columns)) or "none"
        raise JudgingError(
            Problem("table-column", f"the table lacks the column {listed(missing)}; it has {has}", do="Rename or add the column.")
        )
    columns.setdefault("scene", [""] * len(columns["title"]))
    return {name: columns[name] for name in (*NEEDED, "scene")}


def _columns_of_records(records: list[Any]) -> dict[str, list[Any]]:
    if records and not isinstance(records[0], Mapping):
        return {n: [getattr(r, n) for r in records] for n in (*NEEDED, "scene") if hasattr(records[0], n)}
    names = list(dict.fromkeys(name for record in records for name in record)) if records else list(NEEDED)
    short = next((i for i, record in enumerate(records) if any(name not in record for name in NEEDED if name in names)), None)
    if short is not None:
        lacks = listed([name for name in NEEDED if name not in records[short]])
        raise JudgingError(Problem("table-column", f"the record lacks {lacks}", f"record {short + 1}"))
    return {str(name): [record.get(name) for record in records] for name in names}


def _codes(values: Iterable[K]) -> tuple[tuple[K, ...], Ints]:
    """Distinct values in the order of their first appearance, and the place of each value among them."""
    seen: dict[K, int] = {}
    codes = [seen.setdefault(value, len(seen)) for value in values]
    return tuple(seen), np.array(codes, dtype=np.intp)


def _values(values: list[Any]) -> Floats:
    try:
        return np.array([np.nan if v is None else float(v) for v in values], dtype=np.float64)
    except (TypeError, ValueError):
        bad = next(v for v in values if not _is_number(v))
        raise JudgingError(Problem("table-value", f"{bad!r} is not a number", "value")) from None


def _is_number(value: Any) -> bool:
    try:
        float(np.nan if value is None else value)
    except (TypeError, ValueError):
        return False
    return True


def _check_setups(names: list[Any], known: Mapping[str, int]) -> None:
    strange = list(dict.fromkeys(str(name) for name in names if str(name) not in known))
    if strange:
        like = nearest(strange[0], list(known))
        hint = f"Did you mean {like}?" if like else f"The design has {listed(list(known))}."
        raise JudgingError(Problem("table-setup", f"the design has no setup {listed(strange[:5])}", "setup", hint))


def _check_doubled(
    addresses: list[tuple[int, int, int, str]],
    measure: Ints,
    scenes: tuple[tuple[int, str], ...],
    titles: tuple[str, ...],
    design: Design,
) -> None:
    seen: set[tuple[object, ...]] = set()
    doubled = []
    for address, m in zip(addresses, measure.tolist(), strict=True):
        if (m, *address) in seen:
            doubled.append(address)
        seen.add((m, *address))
    if doubled:
        scene, setup, visit, run = doubled[0]
        where = f"{titles[scenes[scene][0]]}, {design.setups[setup]}, visit {visit + 1}, run {run}"
        found = f"{counted(len(doubled), 'run')} stated more than once, the first is {where}"
        raise JudgingError(Problem("table-doubled", found, do="Keep one value for each run and measure."))
