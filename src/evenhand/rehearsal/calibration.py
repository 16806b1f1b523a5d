"""Count a grid of simulated studies and write what was found: python -m evenhand.rehearsal.calibration --out FILE."""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from evenhand.rehearsal.calibration_grid import GridCell, grid
from evenhand.rehearsal.calibration_page import page
from evenhand.rehearsal.count import Counts, Share, count

PROCESSES = 2
STUDIES = 8000


@dataclass(frozen=True, slots=True)
class Target:
    """What a counted share must be. A miss lies outside by more than `reach` Monte Carlo standard errors: of some three thousand
    figures, many of which are at a limit by construction, few miss by chance alone.
    """

    name: str
    label: str
    low: float
    high: float
    reach: float = 3.0

    def short(self, share: Share) -> bool:
        """Whether the share misses on the side that harms: an interval covers too little, a verdict is false too often."""
        return self._below(share) if self.high >= 0.5 else self._above(share)

    def wide(self, share: Share) -> bool:
        """Whether an interval covers too much: it is wider than it need be."""
        return self.high >= 0.5 and self._above(share)

    def _below(self, share: Share) -> bool:
        return share.value < self.low - self.reach * share.error

    def _above(self, share: Share) -> bool:
        return share.value > self.high + self.reach * share.error


TARGETS = (
    Target("title", "at titles", 0.935, 0.965),
    Target("title_last", "at titles, last setup", 0.935, 0.965),
    Target("over", "over titles", 0.935, 0.965),
    Target("over_last", "over titles, last setup", 0.935, 0.965),
    Target("like", "titles like these", 0.935, 0.965),
    Target("ahead", "one title more", 0.935, 0.965),
    Target("family", "all of a title", 0.94, 1.0),
    Target("family_over", "all over titles", 0.94, 1.0),
    Target("false_ahead", "false ahead", 0.0, 0.025),
    Target("false_ahead_over", "false ahead over titles", 0.0, 0.025),
    Target("false_level", "false level", 0.0, 0.05),
    Target("false_level_over", "false level over titles", 0.0, 0.05),
)


def run(cells: Sequence[GridCell], studies: int, processes: int = PROCESSES) -> list[Counts]:
    """Counts of each cell, in order; the seed of a cell alone decides what is drawn."""
    if processes == 1:
        return [_count(cell, studies) for cell in cells]
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        return list(pool.map(_count, cells, [studies] * len(cells), chunksize=4))


def _count(cell: GridCell, studies: int) -> Counts:
    return count(cell.truth, studies, cell.seed, cell.rounds)


def short(counts: Counts) -> dict[str, Share]:
    """What a cell misses on the side that harms, by the target's label."""
    return {t.label: share for t in TARGETS if (share := getattr(counts, t.name)) is not None and t.short(share)}


def wide(counts: Counts) -> dict[str, Share]:
    """Which of its intervals are wider than they need be, by the target's label."""
    return {t.label: share for t in TARGETS if (share := getattr(counts, t.name)) is not None and t.wide(share)}


def write_grid(studies: int, out: Path, cells: Sequence[GridCell] | None = None, processes: int = PROCESSES) -> None:
    """Count `studies` studies of each cell (the whole grid unless told) and write the page to `out`."""
    chosen = grid() if cells is None else cells
    counted = run(chosen, studies, processes)
    text = page(chosen, counted, [short(c) for c in counted], [wide(c) for c in counted], studies)
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(text, encoding="utf-8", newline="\n")


def main() -> None:
    """Count the grid and write its page."""
    parser = argparse.ArgumentParser(description="Count how often intervals cover and verdicts are false.")
    parser.add_argument("--studies", type=int, default=STUDIES, help="studies of each kind")
    parser.add_argument("--out", type=Path, default=Path("docs/methods/calibration.md"), help="page to write")
    chosen = parser.parse_args()
    write_grid(chosen.studies, chosen.out)


if __name__ == "__main__":
    main()
