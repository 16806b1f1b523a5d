"""Published tables as the program judges them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from evenhand.judging.judge import judge
from evenhand.judging.model import Design, MeasureJudgement, Row
from evenhand.measures.model import Better, Measure, Scale

KEY = "value"


def judged(
    cells: Mapping[tuple[str, str], Sequence[float]], scale: Scale, better: Better = Better.HIGHER, **design: object
) -> MeasureJudgement:
    """(title, setup) -> values, one a visit. Setups in the order of their appearance, the first is the baseline unless `design`
    names another; rounds only where `design` asks for them: the replicates of a published table have no number.
    """
    setups = tuple(dict.fromkeys(setup for _, setup in cells))
    measure = Measure(KEY, "Value", "", better, scale, 0.03, "", "")
    rows = [Row(t, s, v, 1, KEY, float(y)) for (t, s), values in cells.items() for v, y in enumerate(values, start=1)]
    options: dict[str, object] = {"baseline": setups[0], "rounds": False, **design}
    return judge(rows, Design(setups=setups, measures=(measure,), **options)).measures[KEY]  # type: ignore[arg-type]


def printed(case: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    """Path of a value that was printed -> the value and half a step of its last digit (or what the case allows)."""
    return {p["path"]: (p["value"], 1.001 * p["tolerance"]) for p in case["published"]}
