"""Tables of runs that tests judge."""

from __future__ import annotations

import numpy as np

from evenhand.judging.model import Design, Row
from evenhand.measures.model import Better, Measure, Scale

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
WAIT = Measure("wait", "Waiting", "ms", Better.LOWER, Scale.LOG, 0.03, "", "")
SHARE = Measure("share", "Time below target", "%", Better.LOWER, Scale.DIFFERENCE, 2.0, "", "")


def design(setups: str = "ABCD", *measures: Measure, **more: object) -> Design:
    return Design(tuple(setups), setups[0], measures or (RATE,), **more)  # type: ignore[arg-type]


def square(setups: str = "ABCD") -> dict[str, object]:
    """Levels and factors of a 2 × 2 design for A, B, C, D."""
    levels = {s: {"x": "on" if s in "BD" else "off", "y": "on" if s in "CD" else "off"} for s in setups}
    return {"levels": levels, "factors": {"x": ("off", "on"), "y": ("off", "on")}}


def study(
    titles: int = 6,
    effects: tuple[float, ...] = (0.0, 0.0, 0.05, -0.08),
    visits: int = 3,
    runs: int = 2,
    noise: float = 0.01,
    shift: float = 0.005,
    seed: int = 1,
    measure: str = "rate",
    scene: str = "",
) -> list[Row]:
    """Rows of a complete study, seeded; setups A, B, ... with the given log effects."""
    rng = np.random.default_rng(seed)
    shared = rng.normal(0, shift, (len(effects), visits))
    return [
        Row(
            f"title {t}",
            "ABCDEF"[c],
            v + 1,
            r + 1,
            measure,
            float(60 * (t + 1) * np.exp(effects[c] + shared[c, v] + rng.normal(0, noise))),
            scene,
        )
        for t in range(titles)
        for c in range(len(effects))
        for v in range(visits)
        for r in range(runs)
    ]
